"""What a flight card is filled with: from settings, calibration and the firmware's own figures."""

from dataclasses import dataclass
from math import cos, radians, sqrt

from host_sim.output.changes import KT_MS
from host_sim.runtimes.paths import use_firmware
from host_sim.world.atmosphere import cas_from_impact_ms

use_firmware()

from alula import figures  # noqa: E402
from alula.calibration import curves_of  # noqa: E402
from alula.settings import Settings, load  # noqa: E402

FLYING_SHARE = 0.9  # the setting flying_q_dpa is this share of the least stall's pressure
BANKS_DEG = (0, 30, 45, 60)
_COUNT = ("no", "one", "two", "three", "four", "five")
_LONG_MS, _QUICK_MS = 300, 90
_GUIDANCE_HZ = 1200  # guidance in a capture is higher than every other figure


@dataclass(frozen=True)
class CardFacts:
    """settings: as the firmware loads them. stall_kt: least stalling speed, IAS, at 1 g, from
    flying_q_dpa; None where the settings file does not say it. flaps: settings of the flaps that
    the calibration has a curve for; None without a calibration. sources: files, for people."""

    settings: Settings
    stall_kt: float | None
    flaps: list[int] | None
    sources: list[str]


def card_facts(record: dict, calibration: dict | None, sources: list[str]) -> CardFacts:
    """From checked records. A setting that the file does not hold is not taken for known: a card
    with a speed of the defaults would look as if it belonged to this aeroplane."""
    stall_kt = None
    if "flying_q_dpa" in record:
        stall_kt = float(cas_from_impact_ms(record["flying_q_dpa"] / FLYING_SHARE / 10)) / KT_MS
    flaps = None if calibration is None else sorted(flap for flap, _ in curves_of(calibration))
    return CardFacts(load(record)[0], stall_kt, flaps, sources)


def bank_factor(bank_deg: float) -> float:
    """Stalling speed in a level turn over that in level flight: sqrt(n), n = 1/cos(bank)."""
    return sqrt(1 / cos(radians(bank_deg)))


def speed_factor(lift_pm: int) -> float:
    """V/Vs at a lift share: 1/sqrt(lift)."""
    return (1000 / lift_pm) ** 0.5


def notes_in_words(figure: int) -> str:
    """A figure of the voice, as a pilot would describe it, e.g. "rising three"."""
    notes = figures.FIGURES[figure]
    pitches = [hz for hz in notes[::2] if hz]
    lengths = [ms for hz, ms in zip(notes[::2], notes[1::2], strict=True) if hz]
    count = len(pitches)
    if count == 1:
        low = "low " if pitches[0] < _GUIDANCE_HZ else ""
        return f"one {'long' if lengths[0] >= _LONG_MS else 'short'} {low}note"
    how = {True: "rising", False: "falling"}[pitches[1] > pitches[0]]
    if len(set(pitches)) == 1:
        return f"{_COUNT[count]} {'quick' if max(lengths) <= _QUICK_MS else 'level'} notes"
    if pitches != sorted(pitches, reverse=how == "falling"):
        if count == 3 and pitches[0] == pitches[2]:
            return "three notes, down and up" if how == "falling" else "three notes, up and down"
        raise ValueError("figure %d goes up and down: describe it here" % figure)
    return f"{how} pair" if count == 2 else f"{how} {_COUNT[count]}"
