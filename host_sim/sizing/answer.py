"""One pair of sensors judged: every figure of the answer, from the rooms beside this one."""

from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Case, Pair
from host_sim.sizing.false_changes import FalseChanges, false_changes
from host_sim.sizing.lag import Delay, delay_of, late_by_mismatch, mismatch_ms
from host_sim.sizing.late import Late, late_by
from host_sim.sizing.noise import Noise, measured_pm, noise_at
from host_sim.sizing.reach import Reach, reach
from host_sim.sizing.sensor_words import step_pa
from host_sim.sizing.unit_settings import settings_of
from host_sim.sizing.wing import Reader, Wing, impact_pa
from host_sim.sizing.zeroing import Zeroing, zeroing

use_firmware()

from alula.settings import Settings  # noqa: E402

STALL = 1.0
PLACES = ("stall", "stalling", "pressing")  # the stall, and where the two warnings begin
WARNING_RATE_KT_S = 1.0  # slow-down of a stall entry, 14 CFR 23.201(b)
FAST_RATE_KT_S = 5.0  # of an accelerated one, 14 CFR 23.203 (3 to 5 kt/s)


@dataclass(frozen=True)
class Answer:
    """reach: (pitot, angled), with the margins; bare_reach: without. steps: of (pitot, angled) in
    the pitot's pressure at the stall. before: the whole error band, not zeroed, at the stall.
    late: place -> cause -> what it costs there; fast_mismatch: at FAST_RATE_KT_S, at the stall.
    delays are in ms, pressures in Pa."""

    pair: Pair
    settings: Settings
    stall_pa: float
    reach: tuple[Reach, Reach]
    bare_reach: tuple[Reach, Reach]
    steps: tuple[float, float]
    noise: Noise
    before: Late
    late: dict[str, dict[str, Late]]
    fast_mismatch: Late
    zeroing: Zeroing
    delay: Delay
    mismatch_ms: float
    changes: FalseChanges


def answer_for(case: Case, pair: Pair) -> Answer:
    """Judge one pair."""
    settings = settings_of(case, pair)
    wing = Wing(case)
    reader = Reader(wing, wing.curve())
    stall_pa = impact_pa(case.stall_kt)
    zeros = zeroing(case, pair, settings)
    delay = delay_of(case, pair, settings)
    apart_ms = mismatch_ms(case)
    noise = noise_at(reader, pair, settings, STALL)
    measured = measured_pm(reader, pair, settings, STALL)
    return Answer(
        pair, settings, stall_pa, reach(wing, pair, True), reach(wing, pair, False),
        (stall_pa / step_pa(pair.pitot), stall_pa / step_pa(pair.angled)),
        Noise(noise.ratio, noise.lift_pm, noise.speed_kt, noise.likeness, measured),
        late_by(reader, STALL, pair.pitot.band_pa, pair.angled.band_pa),
        {place: _causes(reader, pair, zeros, delay, apart_ms, lift)
         for place, lift in zip(PLACES, _lifts(settings), strict=True)},
        late_by_mismatch(reader, STALL, apart_ms, FAST_RATE_KT_S),
        zeros, delay, apart_ms, false_changes(reader, pair, settings))


def _lifts(settings: Settings) -> tuple[float, ...]:
    return STALL, settings.stalling_pm / 1000.0, settings.pressing_pm / 1000.0


def _causes(reader: Reader, pair: Pair, zeros: Zeroing, delay: Delay, apart_ms: float,
            lift: float) -> dict[str, Late]:
    half_steps = step_pa(pair.pitot) / 2.0, step_pa(pair.angled) / 2.0
    slowed_kt = WARNING_RATE_KT_S * delay.total_ms / 1000.0
    speed_kt = reader.wing.speed_kt(lift)
    return {
        "zero": late_by(reader, lift, *zeros.left_pa),
        "drift": late_by(reader, lift, *zeros.drift_left_pa),
        "steps": late_by(reader, lift, *half_steps),
        "tube mismatch": late_by_mismatch(reader, lift, apart_ms, WARNING_RATE_KT_S),
        "delay": Late(1000.0 * lift * 2.0 * slowed_kt / speed_kt, slowed_kt),
    }
