"""The propeller blows over the probe while the aeroplane stands: unsteady, and not straight.

Not on a wing outside the propeller's circle, where a probe belongs; but some sit in its wake. How
unsteady and how twisted the wake is: common practice, no source.
"""

import numpy as np

_UNSTEADY = 0.25  # rms of the pressure over its mean
_TWIST_DEG = 4.0  # rms of the flow's angle
_TAU_S = 0.1
_FULL_PA = 30.0  # a weaker wake does not turn the flow of the wind so much


def unsteady_pa(wash_pa: np.ndarray, dt_s: float, rng: np.random.Generator) -> np.ndarray:
    """Extra impact pressure at the probe, Pa, from its mean at each tick; 0 where that is 0."""
    if not wash_pa.any():
        return wash_pa
    return np.maximum(wash_pa * (1.0 + _UNSTEADY * _coloured(len(wash_pa), dt_s, rng)), 0.0)


def swirl_deg(wash_pa: np.ndarray, dt_s: float, rng: np.random.Generator) -> np.ndarray:
    """Extra angle of attack at the probe, degrees."""
    if not wash_pa.any():
        return wash_pa
    share = np.minimum(wash_pa / _FULL_PA, 1.0)
    return share * _TWIST_DEG * _coloured(len(wash_pa), dt_s, rng)


def _coloured(count: int, dt_s: float, rng: np.random.Generator) -> np.ndarray:
    """First-order noise of unit variance."""
    keep = float(np.exp(-dt_s / _TAU_S))
    fresh = (1.0 - keep * keep) ** 0.5 * rng.standard_normal(count)
    out = np.empty(count)
    value = 0.0
    for i, kick in enumerate(fresh.tolist()):
        value = keep * value + kick
        out[i] = value
    return out
