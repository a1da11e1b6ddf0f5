"""Runs a unit over what its log recorded. The same source runs in CPython and MicroPython.

A job holds what the unit started with: settings, calibration (as `assembly.make_unit` reads them),
zero, anchor, reference_pm, amiss; and keep_calibration: the unit does not take up a calibration
that the log says was flown later. Steps, one after another, are
    ["ticks", n]                     the next n rows
    ["change", kind, value]          what was stored, GAVE_UP or ASKED, between two ticks
    ["restart", zero or None]        after a gap: a fresh unit with this zero
"""

from array import array

from alula import figures, json_records, log_layout
from alula.calibration import curves_of
from alula.ground_check.steps import ROW_FLASH
from alula.record_payloads import CALIBRATION, REFERENCE
from alula.sample import Sample
from alula.unit import Unit
from assembly import make_unit
from host_sim.runtimes.session import IN_WIDTH, OUT_WIDTH, fill, record_row

LOG_WIDTH = IN_WIDTH + 1  # and temperature_dc


class LogSession:
    """Plays steps; the rows of an input are LOG_WIDTH wide, of an output OUT_WIDTH."""

    def __init__(self, job: dict) -> None:
        self._job = job
        self._calibration = job["calibration"]
        self._reference_pm = job["reference_pm"]
        self._unit = self._fresh(job["zero"])
        if job["amiss"]:
            self._unit.voice.announce(figures.AMISS)

    def _fresh(self, zero) -> Unit:
        """A unit; ValueError where the records do not give one that measures."""
        unit, _, remarks = make_unit(self._job["settings"], self._calibration, zero)
        if not isinstance(unit, Unit):
            raise ValueError("; ".join(remarks))
        if self._reference_pm is not None:
            unit.adopt_reference(self._reference_pm)
        anchor = self._job["anchor"]
        if anchor is not None:
            unit.zero.adopt_anchor(anchor["pitot_dpa"], anchor["angled_dpa"])
        return unit

    @property
    def unit(self) -> Unit:
        """The unit that is ticking now."""
        return self._unit

    def restart(self, zero) -> None:
        """A fresh unit with the records that were in use last."""
        self._unit = self._fresh(zero)

    def change(self, kind: int, value) -> None:
        """As `keeper` does it."""
        unit = self._unit
        if kind == CALIBRATION:
            if not self._job["keep_calibration"]:
                self._calibration = json_records.plain_calibration(value)
            if self._calibration is not None:
                unit.adopt_curves(curves_of(self._calibration))
        elif kind == REFERENCE:
            self._reference_pm = value
            unit.adopt_reference(value)
        elif kind == log_layout.GAVE_UP:
            unit.give_up_saving()
        elif kind == log_layout.ASKED:
            self._asked(unit, value)

    def _asked(self, unit: Unit, code: int) -> None:
        """As `console` and `check_desk` do it."""
        if code == log_layout.ASKED_ZERO:
            unit.zero.ask_first()
        elif code == log_layout.ASKED_NEXT:
            unit.checks.go_on()
        elif code == log_layout.ASKED_END:
            unit.checks.end()
        elif code == log_layout.FLASH_FAILED:
            unit.checks.results.put(ROW_FLASH, False, 0, 0)
        else:
            unit.check(code)

    def run(self, rows: array, count: int, out: array) -> None:
        """Tick through `count` rows; fills as many output rows."""
        unit, sample = self._unit, Sample()
        at = 0
        for i in range(0, count * LOG_WIDTH, LOG_WIDTH):
            fill(sample, rows, i)
            sample.temperature_dc = rows[i + IN_WIDTH]
            unit.tick(rows[i], sample)
            record_row(unit, rows[i], out, at)
            at += OUT_WIDTH
