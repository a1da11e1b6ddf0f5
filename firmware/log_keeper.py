"""Logs every tick, and lets full blocks be written while nothing is lost by a held-up loop.

An erase holds the loop up for 45 ms and more, so a block is written in pieces that need one erase
each, far enough apart that the pressure windows stay full. Spec, and what it costs a warning:
hardware_notes/flight_log.md.
"""

from alula import figures, log_layout, states
from alula.flight_log import RING_BLOCKS, FlightLog, record
from alula.ground_check.steps import TIMING
from alula.record_payloads import (
    ANCHOR,
    CALIBRATION,
    PAYLOADS,
    REFERENCE,
    SETTINGS,
    VERSIONS,
    ZERO,
)
from alula.stall_capture import capture as stall_capture
from alula.version import VERSION
from drivers.log_files import session_of
from log_store import LogStore

AFTER_WARNING_MS = 10000
PIECE_EVERY_MS = 200  # more than gap_ms and an erase together: no window is emptied
AGAIN_MS = 5000
LANDED_MS = 3000


def head_of(stored, board_name: str, start_word: str) -> bytes:
    """All that the unit starts with, as the records of a HEAD block. stored: see `Stored`."""
    found = record(log_layout.FIRMWARE, 1, VERSION.encode())
    found += record(log_layout.BOARD, 1, board_name.encode())
    found += record(log_layout.START, 1, start_word.encode())
    found += record(log_layout.FLAGS, 1, bytes([log_layout.AMISS_FLAG if stored.amiss else 0]))
    for kind, value in ((SETTINGS, stored.settings), (ZERO, _pair(stored.zero)),
                        (ANCHOR, _pair(stored.anchor)), (CALIBRATION, stored.calibration),
                        (REFERENCE, stored.reference_pm)):
        if value is not None:
            found += record(kind, VERSIONS[kind], PAYLOADS[kind][0](value))
    return found


def _pair(zero):
    """A zero as the vault has it; the unit uses only the two pressures."""
    if zero is None:
        return None
    return {"pitot_dpa": zero["pitot_dpa"], "angled_dpa": zero["angled_dpa"],
            "spread_pitot_dpa": None, "spread_angled_dpa": None, "temperature_dc": None,
            "count": None}


def next_session(files) -> int:
    """One more than the newest session on the flash."""
    names = files.logs()
    return session_of(names[-1]) + 1 if names else 1


class LogKeeper:
    """The first of the loop's followers: it logs a tick before another one changes the unit.

    files: `LogFiles`. head: see `head_of`. say: takes a line of text. After `follow`, `step` is
    called once a tick. stopped: the log has ended before the unit, and has said so.
    """

    def __init__(self, unit, files, head: bytes, period_ms: int, say,
                 blocks: int = RING_BLOCKS) -> None:
        self._unit = unit
        self._say = say
        self._period_ms = period_ms
        session = next_session(files)
        self.log = FlightLog(min(session, log_layout.SESSION_MOST), period_ms, blocks)
        self._store = LogStore(files, self.log.ring, session, head)
        self._loop = None
        self._calm_ms = AFTER_WARNING_MS
        self._wait_ms = 0
        self._landed_ms = LANDED_MS
        self._untold = False
        self.stopped = False
        self.session = session
        self.why = ""  # it has stopped
        if session > log_layout.SESSION_MOST:
            self._stop("the session numbers are used up; remove the logs")

    def follow(self, loop) -> None:
        """loop: tells now_ms, sample and missed of the latest tick."""
        self._loop = loop

    def step(self) -> None:
        """Log the tick; write a piece if it is time. Allocates only when it writes."""
        if self.stopped:
            self._tell()
        elif self._loop is not None:
            try:
                self._log_tick(self._loop)
            except Exception as error:  # no memory, a mistake: the warning goes on without a log
                self._stop("%s %s" % (type(error).__name__, error))

    def _log_tick(self, loop) -> None:
        self.log.step(loop.now_ms, loop.sample, self._unit, loop.missed)
        self._watch_landing()
        may_write = self._may_write()
        if self._wait_ms > 0:
            self._wait_ms -= self._period_ms
        elif may_write:
            self._write(loop.now_ms)

    def changed(self, kind: int, value) -> None:
        """The unit has just begun to use a record, forgets what waited (kind GAVE_UP), or was
        asked something at the console (kind ASKED, value a code)."""
        if self.stopped:
            return
        if kind == log_layout.GAVE_UP:
            self.log.change(kind, 1, b"")
        elif kind == log_layout.ASKED:
            self.log.change(kind, 1, bytes([value]))
        else:
            self.log.change(kind, VERSIONS[kind], PAYLOADS[kind][0](value))

    def _watch_landing(self) -> None:
        """After a landing the block that was begun is written, too: the power may go soon."""
        if self._unit.phase.flying:
            self._landed_ms = 0
        elif self._landed_ms < LANDED_MS:
            self._landed_ms += self._period_ms
            if self._landed_ms >= LANDED_MS:
                self.log.end_block()

    def _may_write(self) -> bool:
        """Whether a loop that is held up would cost nothing that matters. No allocation."""
        unit, ring = self._unit, self.log.ring
        state = unit.state
        if states.PRESSING <= state <= states.STALLING:
            self._calm_ms = 0
            return False
        if self._calm_ms < AFTER_WARNING_MS:
            self._calm_ms += self._period_ms
            return False
        if not ring.waiting and not self._store.writing or unit.checks.step == TIMING:
            return False
        if unit.voice.level or unit.wants_saving() or unit.capture.state > stall_capture.STEADY:
            return False
        if state == states.CALM:
            return ring.waiting * 2 >= ring.size
        return state != states.FAULT or not unit.phase.flying

    def _write(self, now_ms: int) -> None:
        store = self._store
        self._wait_ms = PIECE_EVERY_MS if store.step(now_ms) else AGAIN_MS
        if store.over:
            self._stop(store.problem)

    def _stop(self, problem: str) -> None:
        self.stopped = self._untold = True
        self.why = problem
        self._say("log: stopped: " + problem)

    def _tell(self) -> None:
        """Once, on the ground: this flight is not logged to its end."""
        if self._untold and not self._unit.phase.flying:
            self._untold = False
            self._unit.voice.announce(figures.AMISS)
