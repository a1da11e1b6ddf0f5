"""What `status`, `settings` and `records` tell. Runs between two ticks; may allocate."""

from alula import health, states
from alula.log_layout import ASKED, ASKED_ZERO
from alula.record_payloads import NAMES
from alula.sample import NO_TEMPERATURE
from alula.settings import TABLE
from alula.unit import Unit
from alula.version import VERSION
from console.replies import ready, refused
from keeper import unheard

STATUS_WORDS = ("fresh", "stale", "no-reply", "sensor-fault", "not-fitted")


class Facts:
    """What there is to look at.

    record: the stored settings, or None; renewed when one is set. log: `LogKeeper`, or None where
    none is kept: then no_log says why. asked: see `CheckDesk`. The loop comes by `follow`.
    """

    def __init__(self, board, vault, unit, record, log=None, no_log: str = "",
                 asked=unheard) -> None:
        self.board = board
        self.vault = vault
        self.unit = unit
        self.record = record
        self.log = log
        self.no_log = no_log
        self.measures = isinstance(unit, Unit)  # not so where settings are amiss
        self.loop = None
        self._asked = asked

    def flying(self) -> bool:
        """The unit knows that it flies, or a warning sounds. No allocation."""
        if not self.measures:
            return False
        return self.unit.phase.flying or states.PRESSING <= self.unit.state <= states.STALLING

    def quiet(self) -> bool:
        """Nothing sounds that an answer could hold up. No allocation."""
        return self.unit.state <= states.CALM and self.unit.voice.level == 0

    def status(self) -> dict:
        """What the unit is and does."""
        unit, board = self.unit, self.board
        return ready(
            firmware=VERSION, board=board.name, start=board.start_word,
            state=states.WORDS[unit.state], health=health.WORDS[unit.health],
            flying=self.flying() if self.measures else None,
            calibrated=self.measures and unit.flaps is not None,
            zero_known=self.measures and unit.zero.known,
            free_memory=board.free_memory(), free_flash=self.vault.free_bytes(),
            missed=0 if self.loop is None else self.loop.missed,
            log=self._log(), sensors=self._sensors(), temperature_dc=self._warmth())

    def _log(self) -> dict:
        log = self.log
        if log is None:
            return {"session": None, "waiting": 0, "stopped": True, "why": self.no_log or "none"}
        return {"session": log.session, "waiting": log.log.ring.waiting, "stopped": log.stopped,
                "why": log.why}

    def _sensors(self) -> dict:
        if self.loop is None:
            return {}
        sample = self.loop.sample
        return {
            "pitot": {"status": STATUS_WORDS[sample.pitot_status], "word": sample.pitot_word},
            "angled": {"status": STATUS_WORDS[sample.angled_status], "word": sample.angled_word},
            "accelerometer": {"status": STATUS_WORDS[sample.nz_status], "nz_mg": sample.nz_mg}}

    def _warmth(self):
        warmth_dc = NO_TEMPERATURE if self.loop is None else self.loop.sample.temperature_dc
        return None if warmth_dc == NO_TEMPERATURE else warmth_dc

    def settings(self) -> dict:
        """Every setting that is set, as the vault has them."""
        record = {} if self.record is None else self.record
        return ready(settings={row[0]: record[row[0]] for row in TABLE if row[0] in record})

    def records(self) -> dict:
        """Kinds that are stored; version 0 is a JSON file made by hand."""
        return ready(records={NAMES[kind]: {"file": name, "version": version, "bytes": size}
                              for kind, name, version, size in self.vault.inventory()})

    def zero(self) -> dict:
        """Ask for a new first zero, as the button held at power-up does."""
        if not self.measures:
            return refused("the settings are amiss", "correct them first")
        zero = self.unit.zero
        if self.unit.phase.has_flown:
            return refused("the aeroplane has flown since power-up",
                           "restart on the ground, then ask again")
        if zero.taken > 1:
            return refused("two zeros have been taken since power-up",
                           "restart on the ground, then ask again")
        zero.ask_first()
        self._asked(ASKED, ASKED_ZERO)
        return ready(asked="a first zero", hint="keep the probe covered and still")
