"""A port held open for us alone; bytes and lines. A link that is lost is told as such."""

import os
import struct
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from host_sim.board import needs
from host_sim.board.ports import Port
from host_sim.errors import NoResult, UsageError

BAUD = 115200
READ_S = 5.0  # mpremote waits for ever without it
STEP_S = 0.01


class Lost(NoResult):
    """The board is not there any more, or does not answer as it should."""


class Link:
    """transport: mpremote's, for the raw REPL; its `serial` is pyserial's port."""

    def __init__(self, port: Port) -> None:
        self.port = port
        self._back = b""
        module = needs.mpremote()
        try:
            self.transport = module.SerialTransport(port.name, BAUD, timeout=READ_S)
        except module.TransportError as error:
            raise UsageError(_why_not_open(port.name)) from error
        except (OSError, ValueError) as error:
            raise UsageError(f"{port.name}: is no serial port ({error})") from error

    def close(self) -> None:
        """Let go of the port."""
        with _whatever():
            self.transport.close()

    def write(self, data: bytes) -> None:
        """Send bytes."""
        with told_as_lost(self.port):
            self.transport.serial.write(data)

    def waiting(self) -> bytes:
        """What has come and nobody has read; returns at once."""
        with told_as_lost(self.port):
            count = self.transport.serial.in_waiting
            found, self._back = self._back, b""
            return found + (self.transport.serial.read(count) if count else b"")

    def give_back(self, data: bytes) -> None:
        """Let `waiting` find bytes once more: the begin of a line whose end has not come."""
        self._back = data

    def read_until(self, done: Callable[[bytes], bool], seconds: float) -> bytes:
        """What comes until `done` says so of all of it, or the time is over."""
        end = time.monotonic() + seconds
        found = b""
        while not done(found) and time.monotonic() < end:
            more = self.waiting()
            found += more
            if not more:
                time.sleep(STEP_S)
        return found


@contextmanager
def told_as_lost(port: Port) -> Iterator[None]:
    """Turn what a vanished or confused board causes into `Lost`."""
    module = needs.mpremote()
    try:
        yield
    except module.TransportExecError:
        raise
    except (module.TransportError, OSError, struct.error, TypeError) as error:
        # TypeError: pyserial reads through a port that was closed under it
        raise Lost(f"{port.name}: the board is gone or does not answer ({_short(error)}); nothing "
                   "that was stored is lost; plug it in and run the same command again") from error


@contextmanager
def _whatever() -> Iterator[None]:
    try:
        yield
    except Exception:  # noqa: S110  # the port is given up in any case
        pass


def _short(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return text[:120] or type(error).__name__


def _why_not_open(name: str) -> str:
    if os.name == "posix" and not os.path.exists(name):
        return f"{name}: there is no such port; is the board plugged in?"
    if os.name == "posix" and not os.access(name, os.R_OK | os.W_OK):
        return (f"{name}: you may not open it; on Linux add yourself to the group that owns it "
                "(often dialout), and log in again")
    return f"{name}: is busy; close the program that uses it (a terminal, another alula)"
