"""Pressures as words through the firmware's two channels: what its ratio does, tick by tick."""

import numpy as np

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Pair
from host_sim.sizing.sensor_words import to_words

use_firmware()

from alula.conditioning import Channel, channel_of  # noqa: E402
from alula.cues import Cues  # noqa: E402
from alula.lift_curve import LiftCurve  # noqa: E402
from alula.pressure_ratio import ratio_bp  # noqa: E402
from alula.sample import FRESH  # noqa: E402
from alula.settings import Settings  # noqa: E402
from alula.transfer import LIMIT_DPA, Transfer  # noqa: E402

CHANNELS = ("pitot", "angled")


def noisy_words(pair: Pair, pressures_pa: tuple[float, float], ticks: int,
                seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Words of both sensors at two pressures that do not change; the same seed, the same words."""
    found = []
    for i, sensor in enumerate((pair.pitot, pair.angled)):
        rng = np.random.default_rng([seed, i])
        found.append(to_words(np.full(ticks, pressures_pa[i]), sensor, rng))
    return found[0], found[1]


def ratios_bp(settings: Settings, pitot: np.ndarray, angled: np.ndarray) -> np.ndarray:
    """The firmware's ratio at every tick at which both channels are ready, int64."""
    one, other = (channel_of(settings, name) for name in CHANNELS)
    period_ms = 1000 // settings.sample_rate_hz
    found = []
    for pitot_word, angled_word in zip(pitot.tolist(), angled.tolist(), strict=True):
        one.step(period_ms, FRESH, pitot_word)
        other.step(period_ms, FRESH, angled_word)
        if one.ready and other.ready and one.dpa > 0:
            found.append(ratio_bp(settings.plumbing, one.dpa, other.dpa))
    return np.array(found, np.int64)


def half_rise_ms(settings: Settings, height_dpa: int = 20000) -> int:
    """How long after the first word of a sudden change the firmware's channel shows half of it:
    0 if with that word already."""
    channel = direct_channel(settings)
    period_ms = 1000 // settings.sample_rate_hz
    while not channel.ready:
        channel.step(period_ms, FRESH, 0)
    spent_ms = -period_ms
    while channel.dpa < height_dpa // 2:
        channel.step(period_ms, FRESH, height_dpa)
        spent_ms += period_ms
    return spent_ms


def direct_channel(settings: Settings) -> Channel:
    """A channel of these settings whose words are 0.1 Pa."""
    return Channel(Transfer("direct", -LIMIT_DPA, LIMIT_DPA, 1), settings.sample_rate_hz,
                   settings.window_ms, settings.gap_ms, settings.lead_ms)


def band_changes(settings: Settings, curve: LiftCurve, ratios: np.ndarray,
                 resolution_pm: int) -> int:
    """How often the firmware's cues change their band on the way through these ratios: twice the
    number of ends, for the first beginning only says where the lift lies."""
    if not _can_end(settings, curve, ratios, resolution_pm):
        return 0
    cues = Cues(settings)
    period_ms = 1000 // settings.sample_rate_hz
    ends, band = 0, cues.band
    for ratio in ratios.tolist():
        cues.step(period_ms, curve.lift_pm(ratio), resolution_pm, True)
        if cues.band < band:
            ends += 1
        band = cues.band
    return 2 * ends


def _can_end(settings: Settings, curve: LiftCurve, ratios: np.ndarray,
             resolution_pm: int) -> bool:
    """Whether a band could begin and end within these ratios at all; else no tick need be run."""
    if not len(ratios):
        return False
    low_pm, high_pm = curve.lift_pm(int(ratios.min())), curve.lift_pm(int(ratios.max()))
    slack_pm = max(settings.hysteresis_pm, 2 * resolution_pm)
    return any(high_pm >= start and low_pm < start - slack_pm
               for start in (settings.calm_pm, settings.pressing_pm, settings.stalling_pm))
