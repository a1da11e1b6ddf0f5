"""The way into the raw REPL of a board, and out again: into maintenance, and back to flying.

A unit that runs is asked with `maintain`; it refuses in the air. A board that is silent is only
interrupted where the user has said that the aeroplane stands.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager

from host_sim.board.link import Link, Lost
from host_sim.board.ports import Port, wait_for
from host_sim.board.probe import State, probe
from host_sim.board.repl import Repl
from host_sim.board.talk import ask, refusal
from host_sim.errors import NoResult, UsageError

LEAVE_S = 3.0  # so long a board may stay on USB after it was told to restart
APPEAR_S = 15.0
ANSWER_S = 30.0  # a start, with imports and the first samples
AGAIN_S = 0.5
LET_GO_S = 1.0
INTERRUPT_S = 1.5  # the unit's watchdog bites after 2 s

# An interrupted unit leaves its watchdog running: given more time, and fed while the link works.
_FEED = """
import machine
try:
 _al_dog = machine.WDT(timeout=8000)
 _al_timer = machine.Timer(-1, period=1000, mode=machine.Timer.PERIODIC,
  callback=lambda t: _al_dog.feed())
except Exception as e: print(e)
"""
# A board without firmware stays at its prompt. In maintenance the unit's board is at hand, and
# counts the start as one that was asked for.
_RESTART = """
import machine
try:
 if 'alula' in open('/main.py').read():
  try:
   import maintenance
   maintenance.kept[0].restart()
  except Exception: pass
  machine.reset()
except OSError: pass
"""


@contextmanager
def maintenance(port: Port, interrupt: bool = False) -> Iterator[Repl]:
    """A board in its raw REPL; afterwards, whatever happens, a unit is started again.

    UsageError where the unit flies, refuses, or nothing answers; Lost where the link is lost.
    """
    link = enter(port, interrupt)
    try:
        yield Repl(link)
    except Lost:
        raise
    except BaseException:
        try:
            _let_go(link)
        except NoResult:
            pass  # the first failure is the one to tell
        raise
    finally:
        link.close()


def enter(port: Port, interrupt: bool = False) -> Link:
    """A link to a board at its prompt."""
    link = Link(port)
    try:
        state = probe(link)
        if state.kind == "silent" and interrupt:
            return _interrupted(link)
        refuse_unfit(port, state)
        if state.kind == "repl":
            return link
        _leaving(link, "maintain")
    except BaseException:
        link.close()
        raise
    return _after_restart(link, "repl", "it did not come back for maintenance")[0]


def refuse_unfit(port: Port, state: State) -> None:
    """UsageError for a state in which a board is not to be touched."""
    if state.kind == "refuses":
        raise UsageError(refusal(state.status))
    if state.kind == "unit" and state.status.get("flying"):  # None: its settings are amiss
        raise UsageError("the unit says that the aeroplane flies; this is for the ground")
    if state.kind == "silent":
        raise UsageError(
            f"{port.name}: nothing answers: no board with MicroPython (install it first, see "
            "hardware_notes/flashing.md), or one whose program is stuck: if it is your unit and "
            "the aeroplane stands on the ground, add --interrupt")


def leave(repl: Repl) -> dict:
    """Restart the board and wait for the unit's answer to `status`; {} where no firmware is on it:
    then it stays at its prompt."""
    if not has_firmware(repl):
        repl.link.write(b"\r\x02")
        return {}
    _let_go(repl.link)
    link, state = _after_restart(repl.link, "unit", "the unit did not answer after its restart; "
                                 "switch it off and on, then try `alula board status`")
    link.close()
    return state.status


def has_firmware(repl: Repl) -> bool:
    """Whether main.py starts a unit, in whatever version."""
    return repl.run("try:\n print('alula' in open('/main.py').read())\n"
                    "except OSError: print(False)").strip() == "True"


def restart(port: Port) -> dict:
    """Start the unit from maintenance, or again if it runs; its status."""
    link = Link(port)
    try:
        state = probe(link)
        refuse_unfit(port, state)
        if state.kind == "repl":
            return leave(Repl(link))
        _leaving(link, "restart")
        return _after_restart(link, "unit", "the unit did not answer after its restart")[1].status
    finally:
        link.close()


def _leaving(link: Link, command: str) -> None:
    """A command after which the unit restarts, perhaps before its answer has come over."""
    try:
        ask(link, command)
    except Lost:
        pass  # whoever waits for it will see


def _let_go(link: Link) -> None:
    """Out of the raw REPL: by a reset, or to the prompt."""
    link.write(b"\r\x03\r\x01")  # out of what may be under way, into a fresh raw prompt
    link.read_until(lambda found: found.endswith(b"CTRL-B to exit\r\n>"), 2.0)
    try:
        link.write(_RESTART.encode() + b"\x04")
        link.read_until(lambda found: b"\x04>" in found, LET_GO_S)
        link.write(b"\r\x02")
    except Lost:
        pass  # as it should: it restarts


def _interrupted(link: Link) -> Link:
    """A stuck program ended by Ctrl-C, its watchdog fed."""
    for _ in range(3):
        link.write(b"\r\x03")
        if probe_prompt(link):
            repl = Repl(link)
            repl.run(_FEED)
            return link
    link.close()
    raise NoResult(f"{link.port.name}: the board does not answer even to an interrupt; hold its "
                   "boot button, plug it in, and install MicroPython again "
                   "(hardware_notes/flashing.md); the stored records stay")


def probe_prompt(link: Link) -> bool:
    """Whether MicroPython's prompt comes within a moment."""
    data = link.read_until(lambda found: found.endswith(b">>> "), INTERRUPT_S / 3)
    return data.endswith(b">>> ")


def _after_restart(link: Link, kind: str, otherwise: str) -> tuple[Link, State]:
    """The link to the same board once it has restarted and is of a kind."""
    port = link.port
    _until_gone(link)
    link.close()
    end = time.monotonic() + ANSWER_S
    while time.monotonic() < end:
        found = wait_for(port, APPEAR_S)
        if found is None:
            break
        try:
            again = Link(found)
        except UsageError:  # it is not ready to be opened
            time.sleep(AGAIN_S)
            continue
        try:
            state = probe(again, stuck=False)
        except Lost:  # it vanished once more
            again.close()
            continue
        if state.kind == kind:
            return again, state
        again.close()
        if state.kind == "repl":
            break  # it has started, and not as a unit
        time.sleep(AGAIN_S)
    raise NoResult(f"{port.name}: {otherwise}")


def _until_gone(link: Link) -> None:
    """Wait for a board to leave; one behind a USB bridge never does."""
    try:
        link.read_until(lambda found: False, LEAVE_S)
    except Lost:
        pass
