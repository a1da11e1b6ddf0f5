"""How often the sensors' noise alone changes what is heard, in steady flight at the worst lift.

Looked at where pressing begins. The band begins at its start; it ends when the lift has stayed
below its end (start less slack) for the release time. Beginnings and ends alternate, so there are
at most twice as many changes as there are of the rarer kind, and

- a beginning needs the lift to cross the start upwards between two ticks;
- an end needs it to cross the end downwards, and to be below it still at later ticks within the
  release time, of which those a whole smoothing window apart are independent of each other.

Both chances are those of a Gaussian signal; the worst lift is where the smaller of them is
largest. The firmware's cues are also run over ten minutes of noise at five lifts around it.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Pair
from host_sim.sizing.gaussian import below, crossing_chance
from host_sim.sizing.noise import Noise, line_shape, noise_at
from host_sim.sizing.sensor_words import transfer_of
from host_sim.sizing.through_firmware import band_changes, noisy_words, ratios_bp
from host_sim.sizing.wing import Reader

use_firmware()

from alula.pressure_ratio import step_bp  # noqa: E402
from alula.settings import Settings  # noqa: E402

MINUTES = 10
PLACES = (-0.5, -0.25, 0.0, 0.25, 0.5)  # lifts that are run, in slacks from the worst
_SCAN = 41
_SEED = 40
_ROUNDING_PM = 1.0  # a lift is a whole number: each level may lie this much nearer
_UNSEEN = 3.0  # none seen: fewer than 3 in that time, at 95 % (rule of three, textbook)


@dataclass(frozen=True)
class FalseChanges:
    """bound_per_h: by crossings; seen: in MINUTES through the firmware at lift_pm, the lift with
    most of them (where none is seen: the worst by the bound); slack_pm: start less end."""

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
    resolution_pm = resolution_at_pm(reader, pair, start)
    slack_pm = max(settings.hysteresis_pm, 2 * resolution_pm)
    bound_per_h, worst_pm = bound(noise_at(reader, pair, settings, start), slack_pm, settings)
    ticks = MINUTES * 60 * settings.sample_rate_hz
    ratios = ratios_bp(settings, *noisy_words(pair, reader.wing.pressures_pa(start), ticks, _SEED))
    counts = {}
    for part in PLACES:
        lift_pm = worst_pm + part * slack_pm
        shift = (lift_pm - settings.pressing_pm) / reader.slope_pm(start) * 10000.0
        counts[lift_pm] = band_changes(settings, reader.curve, ratios + round(shift),
                                       resolution_pm)
    seen = max(counts.values())
    most_pm = max(counts, key=lambda lift_pm: counts[lift_pm])
    return FalseChanges(bound_per_h, seen, most_pm if seen else worst_pm, slack_pm)


def resolution_at_pm(reader: Reader, pair: Pair, lift: float) -> int:
    """The firmware's own figure of what one step of both sensors does to the lift there."""
    pitot, angled = reader.wing.pressures_pa(lift)
    ratio = reader.ratio_bp(pitot, angled)
    reader.curve.lift_pm(ratio)
    return reader.curve.step_pm(step_bp(reader.plumbing, round(10.0 * pitot), ratio,
                                        transfer_of(pair.pitot).step_dpa,
                                        transfer_of(pair.angled).step_dpa))


def bound(noise: Noise, slack_pm: int, settings: Settings) -> tuple[float, float]:
    """(changes an hour at most, lift in per mille at which), by crossings of Gaussian noise."""
    if noise.lift_pm <= 0.0:
        return 0.0, settings.pressing_pm - slack_pm / 2.0
    window = line_shape(settings)[0] + 2  # words in one value: the line's, and the median's
    looks = settings.release_ms * settings.sample_rate_hz // 1000 // window
    found = []
    for lift_pm in np.linspace(settings.pressing_pm - slack_pm - noise.lift_pm,
                               settings.pressing_pm + noise.lift_pm, _SCAN):
        up, down = ((gap_pm - _ROUNDING_PM) / noise.lift_pm for gap_pm in (
            settings.pressing_pm - lift_pm, lift_pm - settings.pressing_pm + slack_pm))
        stays = float(below(np.array([-down]))[0]) ** looks
        found.append((min(crossing_chance(up, noise.likeness),
                          crossing_chance(down, noise.likeness) * stays), float(lift_pm)))
    chance, lift_pm = max(found, key=lambda one: one[0])
    if chance == 0.0:
        lift_pm = settings.pressing_pm - slack_pm / 2.0
    return 2.0 * 3600.0 * settings.sample_rate_hz * chance, lift_pm
