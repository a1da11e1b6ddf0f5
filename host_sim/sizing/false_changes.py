"""How often the sensors' noise alone changes what is heard, in steady flight at the worst lift.

Looked at where pressing begins. The band begins at its start and ends only below its start less
the slack, after the release time. A beginning needs the lift to cross the start upwards, an end
needs it to cross the end downwards, and the two alternate: so there are at most twice as many
changes as crossings of the rarer kind. The worst lift by that bound lies half-way between the two
levels. The firmware's cues are also run over ten minutes of noise at five lifts from end to start.
"""

from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Pair
from host_sim.sizing.gaussian import crossing_chance
from host_sim.sizing.noise import noise_at
from host_sim.sizing.through_firmware import band_changes, noisy_words, ratios_bp
from host_sim.sizing.wing import Reader

use_firmware()

from alula.pressure_ratio import step_bp  # noqa: E402
from alula.settings import Settings  # noqa: E402

MINUTES = 10
LIFTS = 5
_SEED = 40
_ROUNDING_PM = 1.0  # a lift is a whole number: each level may lie this much nearer
_UNSEEN = 3.0  # none seen: fewer than 3 in that time, at 95 % (rule of three, textbook)


@dataclass(frozen=True)
class FalseChanges:
    """bound_per_h: by crossings; seen: in MINUTES through the firmware at lift_pm, the lift with
    most of them (where none is seen anywhere: half-way); slack_pm: start less end of the band."""

    bound_per_h: float
    seen: int
    lift_pm: float
    slack_pm: int

    @property
    def per_h(self) -> float:
        """The rate to judge by: as seen, or where nothing is seen the lower of the two bounds."""
        hours = MINUTES / 60.0
        return self.seen / hours if self.seen else min(self.bound_per_h, _UNSEEN / hours)


def false_changes(reader: Reader, pair: Pair, settings: Settings) -> FalseChanges:
    """At the start of pressing."""
    start = settings.pressing_pm / 1000.0
    pressures = reader.wing.pressures_pa(start)
    resolution_pm = resolution_at_pm(reader, pair, start)
    slack_pm = max(settings.hysteresis_pm, 2 * resolution_pm)
    noise = noise_at(reader, pair, settings, start)
    ticks = MINUTES * 60 * settings.sample_rate_hz
    ratios = ratios_bp(settings, *noisy_words(pair, pressures, ticks, _SEED))
    counts = {}
    for i in range(LIFTS):
        lift_pm = settings.pressing_pm - slack_pm * i / (LIFTS - 1)
        shift = (lift_pm - settings.pressing_pm) / reader.slope_pm(start) * 10000.0
        counts[lift_pm] = band_changes(settings, reader.curve, ratios + round(shift),
                                       resolution_pm)
    seen = max(counts.values())
    worst = [lift for lift, count in counts.items() if count == seen]
    return FalseChanges(_bound_per_h(noise.lift_pm, noise.likeness, slack_pm, settings), seen,
                        worst[0] if seen else settings.pressing_pm - slack_pm / 2.0, slack_pm)


def resolution_at_pm(reader: Reader, pair: Pair, lift: float) -> int:
    """The firmware's own figure of what one step of both sensors does to the lift there."""
    from host_sim.sizing.sensor_words import transfer_of
    pitot, angled = reader.wing.pressures_pa(lift)
    ratio = reader.ratio_bp(pitot, angled)
    reader.curve.lift_pm(ratio)
    return reader.curve.step_pm(step_bp(reader.plumbing, round(10.0 * pitot), ratio,
                                        transfer_of(pair.pitot).step_dpa,
                                        transfer_of(pair.angled).step_dpa))


def _bound_per_h(rms_pm: float, likeness: float, slack_pm: int, settings: Settings) -> float:
    if rms_pm <= 0.0:
        return 0.0
    level = max(0.0, slack_pm / 2.0 - _ROUNDING_PM) / rms_pm
    return 2.0 * 3600.0 * settings.sample_rate_hz * crossing_chance(level, likeness)
