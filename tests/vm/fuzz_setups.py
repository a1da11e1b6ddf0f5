"""Units for the fuzzer: every sampling rate, plumbing and sensor output, curves and none, and
settings at the ends of their ranges. Runs in both interpreters.
"""

from alula.transfer import OUTPUT_TENTHS
from alula.unit import Unit
from tests.both.core_rig import POINTS, settings_with

FLAPPED = ((-500, 200), (2000, 500), (7000, 1000))
STEEP = ((-30000, 0), (-29999, 1000), (30000, 1500))  # legal, and as hard as can be
ONE, TWO = ((0, POINTS),), ((0, POINTS), (1, FLAPPED))
HARD = ((0, STEEP), (20, POINTS), (99, FLAPPED))
RANGE_DPA = 25000


def _raw(pitot: str, angled: str, **more) -> dict:
    found = {"pitot_output": pitot, "angled_output": angled, "pitot_low_dpa": -RANGE_DPA,
             "pitot_high_dpa": RANGE_DPA, "angled_low_dpa": -RANGE_DPA,
             "angled_high_dpa": RANGE_DPA}
    found.update(more)
    return found


QUICK = {"window_ms": 80, "gap_ms": 40, "fault_after_ms": 200, "hold_ms": 2000, "release_ms": 0,
         "calm_release_ms": 0, "calm_after_ms": 0, "flying_ms": 100, "ground_ms": 1000,
         "zero_ms": 1000, "frozen_ms": 500, "dead_ms": 300, "flap_settle_ms": 100, "edge_ms": 10,
         "fault_every_ms": 1500, "fault_repeats": 1, "fault_reminder_ms": 5000}
SLOW = {"window_ms": 400, "lead_ms": 150, "gap_ms": 300, "fault_after_ms": 2000, "hold_ms": 60000,
        "release_ms": 2000, "lost_ms": 3000, "edge_ms": 25, "hysteresis_pm": 100}
WIDE = {"pitot_low_dpa": -100000, "pitot_high_dpa": 100000, "angled_low_dpa": -100000,
        "angled_high_dpa": 100000}
SETUPS = (  # settings that differ from the defaults, curves, stored zero
    ({}, ONE, (0, 0)),
    (_raw("hsc-a", "hsc-a"), TWO, (60, 40)),
    (_raw("ms4525-a", "ms4525-b", plumbing="pitot-port", sample_rate_hz=50, flap_switches=2),
     TWO, (-30, 25)),
    (_raw("hsc-b", "hsc-c", plumbing="opposed", sample_rate_hz=200, pitot_sense="reversed"),
     ONE, (0, 0)),
    (_raw("hsc-f", "ms4525-a", angled_sense="reversed", sample_rate_hz=125), HARD, None),
    (dict(QUICK, plumbing="opposed", sample_rate_hz=200), TWO, (5000, -5000)),
    (dict(SLOW, plumbing="pitot-port", sample_rate_hz=50), ONE, (0, 0)),
    (_raw("hsc-a", "hsc-a", **QUICK), TWO, (0, 0)),
    (_raw("hsc-a", "ms4525-b", **SLOW), HARD, (0, 0)),
    ({"sample_rate_hz": 125, "calm_sound": "off"}, None, (0, 0)),
    (_raw("hsc-a", "hsc-a", plumbing="opposed"), None, None),
    (dict(_raw("hsc-c", "hsc-c", sample_rate_hz=200), **WIDE), ONE, (-5000, 5000)),
)


def unit_for(setup) -> tuple:
    """(unit, its settings)."""
    changes, curves, zero = setup
    settings = settings_with(**changes)
    return Unit(settings, curves, zero), settings


def word_of(setup, side: str, dpa: int) -> int:
    """The word that the sensor of a side ("pitot" or "angled") sends at a pressure, 0.1 Pa.

    From the outputs at both ends of the range (data sheets, see `alula.transfer`).
    """
    changes = setup[0]
    output = changes.get(side + "_output", "direct")
    if changes.get(side + "_sense") == "reversed":
        dpa = -dpa
    if output == "direct":
        return max(-120000, min(120000, dpa))
    low, high = changes[side + "_low_dpa"], changes[side + "_high_dpa"]
    first, last = OUTPUT_TENTHS[output]
    return max(0, min(16383, (first + (dpa - low) * (last - first) // (high - low)) // 10))
