"""Stores what the unit has learned, while it is calm, and lets it use only what was read back."""

import gc

from alula import json_records
from alula.calibration import curves_of
from alula.log_layout import GAVE_UP
from alula.record_payloads import ANCHOR, CALIBRATION, REFERENCE, ZERO
from alula.sample import NO_TEMPERATURE
from alula.stall_capture import capture as stall_capture
from alula.stall_capture.judge import METHOD_WORDS
from alula.vault import fingerprint

TRIES = 3
AGAIN_TICKS = 500


def unheard(kind: int, value) -> None:
    """Stands for a log where none is kept."""


class Keeper:
    """Called once a tick by the loop; does nothing until something waits to be stored.

    calibration: the stored value in use, or None. anchored: an anchor is stored. say: called with
    a line of text, for a computer that may be listening. changed: called with (kind, value) when
    the unit has begun to use a record, and with (GAVE_UP, None) when it forgets what waited.
    """

    def __init__(self, unit, vault, settings, calibration, say, anchored=False,
                 changed=unheard) -> None:
        self._unit = unit
        self._vault = vault
        self._settings = settings
        self._calibration = calibration
        self._say = say
        self._changed = changed
        self._tries = 0
        self._pause = 0
        self._zeros = 0
        self._anchored = anchored

    def step(self) -> None:
        """Store what waits, if nothing sounds that must not be held up. Allocates only then."""
        unit = self._unit
        if self._pause:
            self._pause -= 1
        elif unit.wants_saving():
            if unit.capture.state == stall_capture.READY:
                self._save_curve()
            else:
                self._save_reference()
        elif unit.zero.taken != self._zeros and not unit.phase.flying:
            self._save_zero()

    def _save_curve(self) -> None:
        """The new curve beside those of other flaps; the old one stays until it is safe."""
        unit, book = self._unit, self._unit.capture.book
        curve = self._curve(book, book.best, max(unit.capture.flap, 0))
        mark = fingerprint(self._settings)
        kept = self._kept(mark, curve["flap"])
        value = {"plumbing": self._settings.word("plumbing"), "fingerprint": mark,
                 "curves": kept + [curve]}
        found = self._stored(CALIBRATION, value)
        if found is None:
            return
        self._calibration = found
        unit.adopt_curves(curves_of(json_records.plain_calibration(found)))
        self._changed(CALIBRATION, found)
        self._say("saved: calibration, flap %d, stall ratio %d"
                  % (curve["flap"], curve["points"][-1][0]))

    def _kept(self, mark: int, flap: int) -> list:
        """Curves of other flap settings; only where it is known that these sensors made them."""
        if self._calibration is None:
            return []
        if self._calibration["fingerprint"] != mark:
            self._say("curves from a file are not kept: nobody knows which sensors made them")
            return []
        return [old for old in self._calibration["curves"] if old["flap"] != flap]

    def _curve(self, book, i: int, flap: int) -> dict:
        points = [[book.ratios_bp[i][k], book.lifts_pm[i][k]] for k in range(book.lengths[i])]
        return {"flap": flap, "method": METHOD_WORDS[book.method[i]], "points": points,
                "entry_rate_ckt_s": book.entry_ckts[i], "runs": book.agreeing,
                "spread_bp": book.spread_pm * book.slope_bp[i] // 100}

    def _save_reference(self) -> None:
        found = self._stored(REFERENCE, self._unit.reference_pm)
        if found is not None:
            self._unit.adopt_reference(found)
            self._changed(REFERENCE, found)
            self._say("saved: calm reference, lift %d" % found)

    def _save_zero(self) -> None:
        """The zero just taken on the ground; once each, whether the flash takes it or not."""
        unit = self._unit
        self._zeros = unit.zero.taken
        warmth_dc = unit.zero.temperature_dc
        value = {"pitot_dpa": unit.pitot.zero_dpa, "angled_dpa": unit.angled.zero_dpa,
                 "spread_pitot_dpa": unit.zero.spreads_dpa[0],
                 "spread_angled_dpa": unit.zero.spreads_dpa[1],
                 "temperature_dc": None if warmth_dc == NO_TEMPERATURE else warmth_dc,
                 "count": unit.zero.samples}
        if unit.zero.anchored:
            self._save(ANCHOR, value)
        elif not self._anchored:  # zeros from before there were anchors
            self._save(ANCHOR, dict(value, pitot_dpa=unit.zero.anchor_dpa[0],
                                    angled_dpa=unit.zero.anchor_dpa[1], temperature_dc=None))
        self._save(ZERO, value)

    def _save(self, kind: int, value) -> None:
        problem = self._vault.save(kind, value)
        if problem:
            self._say(problem)
        elif kind == ANCHOR:
            self._anchored = True

    def _stored(self, kind: int, value):
        """Save and load again: what the vault gives back, or None; then once more, a little later.

        After the last try nothing has changed, and the unit says that the run was for nothing.
        """
        problem = self._vault.save(kind, value)
        gc.collect()  # here, while calm, what the save left behind
        found = None
        if not problem:
            found, problem = self._vault.load(kind)
        if found == value:
            self._tries = 0
            return found
        self._say(problem or "saved record did not load equal")
        self._tries += 1
        self._pause = AGAIN_TICKS
        if self._tries >= TRIES:
            self._tries = 0
            self._unit.give_up_saving()
            self._changed(GAVE_UP, None)
        return None
