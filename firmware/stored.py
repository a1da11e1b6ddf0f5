"""What the vault holds at start-up, checked, with a line for all that is amiss."""

from alula import json_records
from alula.record_payloads import ANCHOR, CALIBRATION, REFERENCE, SETTINGS, STARTS, STOP, ZERO
from alula.settings import load
from alula.vault import fingerprint


class Stored:
    """settings: record or None. calibration: vault value or None, plain: the same as `make_unit`
    reads it. zero: {"pitot_dpa", "angled_dpa"} or None, taken at zero_dc (0.1 degC, None where not
    known). anchor: value or None. reference_pm: lift share or None. starts: counts of earlier
    starts, or None. remarks: lines to show; amiss: a record was found damaged or unfit. Nothing is
    written."""

    def __init__(self, vault) -> None:
        self.remarks: list = []
        self.amiss = False
        self.settings = self._load(vault, SETTINGS)
        self.calibration = self._load(vault, CALIBRATION)
        zero = self._load(vault, ZERO)
        self.zero = None
        self.zero_dc = None
        if zero is not None:
            self.zero_dc = zero["temperature_dc"]
            self.zero = {"pitot_dpa": zero["pitot_dpa"], "angled_dpa": zero["angled_dpa"]}
        self.anchor = self._load(vault, ANCHOR)
        self.reference_pm = self._load(vault, REFERENCE)
        self._check_sensors()
        self.starts = vault.load(STARTS)[0]  # a count that is damaged begins anew
        stopped = vault.load(STOP)[0]
        if stopped:
            self.remarks.append("the last stop of the program by itself:\n" + stopped)
        self.plain = None
        if self.calibration is not None:
            self.plain = json_records.plain_calibration(self.calibration)

    def _load(self, vault, kind: int):
        value, problem = vault.load(kind)
        if problem:
            self.remarks.append(problem)
            self.amiss = True
        return value

    def _check_sensors(self) -> None:
        """A calibration, and with it the zero and the reference, belongs to its sensors."""
        settings, problems = load({} if self.settings is None else self.settings)
        if self.calibration is None or problems:
            return
        if self.calibration["plumbing"] is None:
            self._drop("calibration: the file does not say for which plumbing; add it")
            return
        mark = self.calibration["fingerprint"]
        if mark is not None and mark != fingerprint(settings):
            self._drop("calibration: made with other sensors or plumbing than the settings say; "
                       "correct the settings, or capture again")
            self.zero = self.anchor = None

    def _drop(self, remark: str) -> None:
        self.remarks.append(remark)
        self.amiss = True
        self.calibration = None
        self.reference_pm = None
