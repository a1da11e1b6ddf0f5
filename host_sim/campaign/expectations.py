"""What the unit must say of each fault, and how soon: the table that the campaign judges by.

Times come from the firmware's own settings, by name, so that they follow them.
"""

from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware
from host_sim.world.faults import FAULTS

use_firmware()

from alula.settings import Settings  # noqa: E402

_LOOK_S = 0.3  # two looks of 0.1 s, a window that is half old, a tick or two
_DEFAULTS = Settings()
_PITOT = frozenset({"pitot-jump", "pitot-dead", "q-lost", "too-slow", "outside", "unbalanced",
                    "no-zero"})
_ANGLED = frozenset({"angled-jump", "angled-dead", "outside", "unbalanced",
                     "no-zero"})
_STATIC = frozenset({"pitot-jump", "both-jump", "angled-jump", "q-lost", "too-slow", "outside",
                     "unbalanced", "pitot-dead"})


@dataclass(frozen=True)
class Expectation:
    """words: health words that name the fault rightly. within_s: time allowed, from the onset, or
    (`matters`) from when the fault puts a wrong lift share before the unit. borne: the unit is to
    live with it, told or not. undetectable: why nobody can tell it; empty where it can be told."""

    words: frozenset[str]
    within_s: float
    matters: bool = True
    borne: bool = False
    undetectable: str = ""


def _after_s(*names: str) -> float:
    return sum(getattr(_DEFAULTS, name) for name in names) / 1000.0 + _LOOK_S


def _at_once(*words: str) -> Expectation:
    return Expectation(frozenset(words), _after_s("fault_after_ms"), matters=False)


_SLOW_S = _after_s("balance_ms", "fault_after_ms") + 2.0  # blocks of a second
_BY_CURVE_S = max(_after_s("outside_ms", "fault_after_ms"), _SLOW_S)
_JUMP_S = _after_s("fault_after_ms")
_FROZEN_S = _after_s("frozen_ms", "fault_after_ms")
_UNSTEADY = frozenset({"pitot-unsteady", "angled-unsteady", "both-unsteady", "intermittent"})
_JUMPS = frozenset({"pitot-jump", "angled-jump", "both-jump"})
_RADIO = _JUMPS | {"q-lost", "pitot-dead", "outside", "no-zero"}
_ANY_HOSES = _PITOT | _ANGLED | _STATIC

EXPECTED: dict[str, Expectation] = {
    "pitot-silent": _at_once("pitot-no-reply"),
    "angled-silent": _at_once("angled-no-reply"),
    "both-silent": _at_once("both-no-reply"),
    "pitot-stale": _at_once("pitot-stale"),
    "angled-stale": _at_once("angled-stale"),
    "pitot-sick": _at_once("pitot-sensor-fault"),
    "angled-sick": _at_once("angled-sensor-fault"),
    "pitot-rail": _at_once("pitot-rail"),
    "angled-rail": _at_once("angled-rail"),
    "pitot-frozen": Expectation(frozenset({"pitot-frozen", "pitot-dead"}), _FROZEN_S),
    "angled-frozen": Expectation(frozenset({"angled-frozen", "angled-dead"}), _FROZEN_S),
    "both-frozen": Expectation(frozenset({"both-frozen"}),
                               _after_s("frozen_ms", "frozen_ms", "fault_after_ms")),
    "twins": Expectation(frozenset({"twins", "angled-jump", "outside"}), _FROZEN_S),
    "flipped-bit": Expectation(_UNSTEADY | _JUMPS, 0.0, borne=True),
    "wild-words": Expectation(_UNSTEADY | {"pitot-rail", "angled-rail"}, 0.0, borne=True),
    "bad-wire": Expectation(_UNSTEADY, 0.0, borne=True),
    "radio-reads": Expectation(_UNSTEADY, 0.0, borne=True),
    "radio": Expectation(_RADIO, _JUMP_S),
    "radio-negative": Expectation(_RADIO, _JUMP_S),
    "zero-drift": Expectation(_ANY_HOSES, _SLOW_S, undetectable="slow, and like a change of "
                              "weight"),
    "zero-drifted": Expectation(_ANY_HOSES, _SLOW_S, undetectable="there before the flight, and "
                                "like another weight"),
    "sun": Expectation(_PITOT, _JUMP_S, undetectable="below the limit of a jump where q is large"),
    "sun-angled": Expectation(_ANGLED, _JUMP_S,
                              undetectable="below the limit of a jump where q is large"),
    "pitot-blocked": Expectation(_PITOT | {"both-jump", "both-frozen"}, _BY_CURVE_S,
                                 undetectable="while the aeroplane slows down in level flight: "
                                 "the pressure that is held does not change, and the angled one "
                                 "hardly does then"),
    "pitot-blocked-drain": Expectation(_PITOT | {"both-jump"}, _BY_CURVE_S),
    "angled-blocked": Expectation(_ANGLED, _BY_CURVE_S),
    "static-blocked": Expectation(_STATIC, _BY_CURVE_S),
    "pitot-off": Expectation(_PITOT | {"both-jump", "angled-jump"}, _JUMP_S),
    "angled-off": Expectation(_ANGLED, _JUMP_S),
    "static-off": Expectation(_STATIC, _JUMP_S, undetectable="a static that is wrong by the "
                              "cabin's few pascals changes both pressures alike"),
    "pitot-leak": Expectation(_PITOT, _BY_CURVE_S),
    "angled-leak": Expectation(_ANGLED, _BY_CURVE_S),
    "pitot-angled-leak": Expectation(_PITOT | _ANGLED, _BY_CURVE_S),
    "pitot-water": Expectation(_PITOT | {"both-jump", "angled-jump"}, _JUMP_S),
    "angled-water": Expectation(_ANGLED, _JUMP_S),
    "static-water": Expectation(_STATIC, _JUMP_S),
    **{name: Expectation(_PITOT | {"both-jump", "angled-jump"}, _BY_CURVE_S)
       for name in FAULTS if name.startswith("pitot-iced")},
    **{name: Expectation(_ANGLED, _BY_CURVE_S) for name in FAULTS
       if name.startswith("angled-iced")},
    **{name: Expectation(_PITOT | _ANGLED | {"both-jump"}, _BY_CURVE_S, undetectable="both "
       "pressures lose the same share: the ratio stays right until too little is left")
       for name in FAULTS if name.startswith("both-iced")},
    **{name: Expectation(_ANY_HOSES, _BY_CURVE_S) for name in FAULTS if name.startswith("hoses")},
    "accelerometer-dead": Expectation(frozenset(), 0.0, borne=True),
    "accelerometer-stuck": Expectation(frozenset(), 0.0, borne=True),
    "flap-switch-broken": Expectation(frozenset(), 0.0, borne=True),
    "flap-switch-bounces": Expectation(frozenset(), 0.0, borne=True),
}
