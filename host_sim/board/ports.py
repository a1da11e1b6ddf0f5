"""USB ports on which a board may be, and the one that is meant."""

import os
import time
from dataclasses import dataclass

from host_sim.board import needs
from host_sim.errors import UsageError

# USB vendor, product (None: any): what it usually is. From memory; only shown, never decided by.
KNOWN = (
    (0x2E8A, 0x0005, "RP2040 or RP2350 with MicroPython"),
    (0x2E8A, None, "RP2040 or RP2350"),
    (0x303A, None, "ESP32, its own USB"),
    (0x10C4, 0xEA60, "USB bridge, often an ESP32 behind it"),
    (0x1A86, None, "USB bridge, often an ESP32 behind it"),
    (0x0403, None, "USB bridge"),
    (0xF055, None, "MicroPython board"),
)
UNKNOWN = "unknown device"
APPEAR_EVERY_S = 0.1
NAMED_S = 2.0  # a board that has just restarted is not there for a moment


@dataclass(frozen=True)
class Port:
    """A USB serial port. serial: the device's own number, or ""; usual: what it usually is."""

    name: str
    vendor: int
    product: int
    serial: str
    usual: str

    def text(self) -> str:
        """One line for people."""
        number = f", number {self.serial}" if self.serial else ""
        return f"{self.name} (USB {self.vendor:04x}:{self.product:04x}{number}; {self.usual})"


def usb_ports() -> list[Port]:
    """Every USB serial port there is, by name."""
    found = []
    for port in sorted(needs.list_ports().comports(), key=lambda one: one.device):
        if port.vid is not None and port.pid is not None:
            found.append(Port(port.device, port.vid, port.pid, port.serial_number or "",
                              _usual(port.vid, port.pid)))
    return found


def choose_port(word: str | None) -> Port:
    """The port that was named, or the only USB port; UsageError where there is none or several."""
    found = usb_ports()
    if word is not None:
        for port in found:
            if port.name == word:
                return port
        port = Port(word, 0, 0, "", "named on the command line")
        if os.name == "posix" and wait_for(port, NAMED_S) is None:
            raise UsageError(f"--port {word}: there is no such port; {_there_are(found)}")
        return port
    if len(found) == 1:
        return found[0]
    if not found:
        raise UsageError("no board found on USB; plug it in with a cable that carries data, or "
                         "name its port with --port")
    raise UsageError(f"several USB ports: {_there_are(found)}; name one with --port")


def wait_for(port: Port, seconds: float) -> Port | None:
    """The same device once it is there again, perhaps under another name; None if it is not."""
    end = time.monotonic() + seconds
    while True:
        for other in usb_ports():
            if other.name == port.name or port.serial and other.serial == port.serial:
                return other
        if not port.vendor and os.path.exists(port.name):
            return port
        if time.monotonic() > end:
            return None
        time.sleep(APPEAR_EVERY_S)


def _usual(vendor: int, product: int) -> str:
    for known, number, text in KNOWN:
        if vendor == known and number in (None, product):
            return text
    return UNKNOWN


def _there_are(found: list[Port]) -> str:
    return "found " + ", ".join(port.text() for port in found) if found else "no USB port found"
