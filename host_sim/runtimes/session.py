"""Runs the firmware over a stream of ticks. The same source runs in CPython and MicroPython.

Rows travel as flat arrays of 32-bit integers, so that a stream is the same bytes everywhere.
An input row (IN_COLUMNS) holds one tick's raw words, or one tick's sensor contents for the bench;
an output row (OUT_COLUMNS) holds what the unit decided.
"""

import os
from array import array

from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, Sample
from alula.unit import Unit
from alula.vault import Vault
from assembly import make_loop, make_unit
from drivers.log_files import LogFiles
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from startup import prepare

IN_COLUMNS = ("now_ms", "pitot_status", "pitot_word", "angled_status", "angled_word",
              "nz_status", "nz_mg", "flap", "button")
OUT_COLUMNS = ("now_ms", "pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state",
               "pulse_millihz", "tone_hz", "health", "voice_hz", "voice_level", "lamp",
               "capture", "verdicts", "refusal", "number", "stall_bp")
IN_WIDTH = len(IN_COLUMNS)
OUT_WIDTH = len(OUT_COLUMNS)
AFTER_TICKS = 4000  # after a flight: time enough to write all that waits
DIAGNOSTIC = 3  # the two status bits of a sensor that found a fault in itself
UNKNOWN = -0x80000000  # where the unit does not know a number, there is none


def record_row(unit, now_ms: int, out: array, at: int) -> None:
    """Write one output row."""
    pitot, angled = unit.pitot, unit.angled
    out[at] = now_ms
    out[at + 1] = pitot.dpa if pitot.ready else UNKNOWN
    out[at + 2] = angled.dpa if angled.ready else UNKNOWN
    out[at + 3] = unit.ratio_bp if unit.ratio_known else UNKNOWN
    out[at + 4] = unit.lift_pm if unit.lift_known else UNKNOWN
    out[at + 5] = unit.state
    out[at + 6] = unit.pulse_millihz
    out[at + 7] = unit.tone_hz
    out[at + 8] = unit.health
    voice = unit.voice
    out[at + 9] = voice.hz
    out[at + 10] = voice.level
    out[at + 11] = 1 if unit.lamp.on else 0
    capture = unit.capture
    out[at + 12] = capture.state
    out[at + 13] = capture.verdicts
    out[at + 14] = capture.refusal
    out[at + 15] = capture.number
    out[at + 16] = capture.judge.stall_bp


def fill(sample: Sample, rows, at: int) -> None:
    """Put the raw words of the input row that begins at `at` into a sample. No allocation."""
    sample.pitot_status = rows[at + 1]
    sample.pitot_word = rows[at + 2]
    sample.angled_status = rows[at + 3]
    sample.angled_word = rows[at + 4]
    sample.nz_status = rows[at + 5]
    sample.nz_mg = rows[at + 6]
    sample.flap = rows[at + 7]
    sample.button = rows[at + 8]


class WordSession:
    """Raw words straight into the unit, at the times they carry."""

    def __init__(self, unit) -> None:
        self._unit = unit
        self._sample = Sample()

    def run(self, rows: array, count: int, out: array) -> None:
        """Tick through `count` input rows; fills as many output rows."""
        unit, sample = self._unit, self._sample
        at = 0
        for i in range(0, count * IN_WIDTH, IN_WIDTH):
            fill(sample, rows, i)
            unit.tick(rows[i], sample)
            record_row(unit, rows[i], out, at)
            at += OUT_WIDTH

    def off(self) -> None:
        """The power goes."""


def _feel(sensor, i2c, status: int, code: int) -> None:
    """What a fake sensor does in this tick: a finished conversion; a bus that fails; a fault of
    its own; or, for any other status, nothing, so that its "already fetched" bit speaks."""
    sensor.status_override = DIAGNOSTIC if status == SENSOR_FAULT else None
    i2c.fail_next(2 if status == NO_REPLY else 0)  # the accelerometer shares the pitot's bus
    if status == FRESH:
        sensor.refresh(code)


class BenchSession:
    """Sensor contents into the fake sensors of a bench board; the firmware's own drivers and loop
    fetch them. log_files: where the unit's log goes, or None."""

    def __init__(self, unit, loop, board, log_files=None) -> None:
        self._unit = unit
        self._loop = loop
        self._board = board
        self._log_files = log_files
        self._last = array("i", [0] * IN_WIDTH)

    def run(self, rows: array, count: int, out: array) -> None:
        """As `WordSession.run`; the board's clock gives the time."""
        clock = self._board.clock
        at = 0
        for i in range(0, count * IN_WIDTH, IN_WIDTH):
            self._tick(rows, i)
            record_row(self._unit, clock.now_ms(), out, at)
            at += OUT_WIDTH
        for k in range(IN_WIDTH if count else 0):
            self._last[k] = rows[(count - 1) * IN_WIDTH + k]

    def _tick(self, rows, i: int) -> None:
        board = self._board
        _feel(board.pitot_sensor, board.pitot_i2c, rows[i + 1], rows[i + 2])
        _feel(board.angled_sensor, board.angled_i2c, rows[i + 3], rows[i + 4])
        if rows[i + 5] == FRESH and board.accel_chip is not None:
            board.accel_chip.refresh(0, 0, rows[i + 6])
        for flap in range(3):
            board.flap_pins[flap].value(0 if rows[i + 7] == flap else 1)
        board.button_pin.presses = [[0, 1 << 29]] if rows[i + 8] else []
        self._loop.run_once()

    def off(self) -> None:
        """The power goes. A unit that logs stands, or flies level, as it was for a while first, so
        that its log is written to the end; not in the middle of a block, of which a desk's file
        system would keep a piece, and the board's keeps nothing."""
        if self._log_files is None:
            return
        for i in range(2 * AFTER_TICKS):
            if i >= AFTER_TICKS and not self._log_files.writing():
                break
            self._last[2] += 1 - 2 * (i & 1)  # a sensor that is healthy never rests
            self._last[4] += 1 - 2 * (i & 1)
            self._tick(self._last, 0)
        self._log_files.abandon()


def make_session(job: dict):
    """A session from a job: settings, calibration and zero records (None where there is none) and
    `kind`, "words" or "bench", and `flash`: a folder that serves as the board's flash, or None.
    Raises ValueError where the records do not give a measuring unit; the desk has checked them."""
    unit, settings, remarks = make_unit(job["settings"], job["calibration"], job["zero"])
    if not isinstance(unit, Unit):
        raise ValueError("; ".join(remarks))
    if job["kind"] == "words":
        return WordSession(unit)
    board = BenchBoard(
        VirtualClock(), settings.word("accelerometer") if settings.accelerometer else None,
        pitot_address=settings.pitot_address, angled_address=settings.angled_address,
        accel_address=settings.accelerometer_address,
        pitot_output=settings.word("pitot_output"), angled_output=settings.word("angled_output"))
    if not job["flash"]:
        return BenchSession(unit, make_loop(board, unit, settings), board)
    # With a flash the unit starts as on the board: from what is stored there.
    flash = LogFiles(os, open, job["flash"])
    loop, _ = prepare(board, Vault(flash), board.console.say, flash)
    return BenchSession(loop.unit, loop, board, flash)
