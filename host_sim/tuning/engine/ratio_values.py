"""Ratio, lift share and resolution of many ticks at once, exactly as the firmware's.

Quotients of whole numbers below 2^50 in float64: where x / n is no whole number it lies at least
1 / n away from one, and the rounded quotient at most |x / n| * 2^-53; so its floor is right.
"""

from functools import lru_cache

import numpy as np

from alula.lift_curve import LIFT_MOST_PM, LiftCurve
from alula.pressure_ratio import _LIMIT_BP as LIMIT_BP
from alula.pressure_ratio import _PITOT_PORT as PITOT_PORT


def ratios_bp(plumbing: int, q_dpa: np.ndarray, angled_dpa: np.ndarray,
              out: np.ndarray) -> np.ndarray:
    """`pressure_ratio.ratio_bp` into out, int16; rubbish where q is not positive.

    (10 000 a + (q >> 1)) // q is floor(10 000 a / q + 1/2): for an even q these are the same sum;
    for an odd one they differ by 1 / (2 q), and no whole number lies in between.
    """
    ratio = np.multiply(angled_dpa, 10000.0)
    ratio /= np.maximum(q_dpa, 1)
    ratio += 0.5
    np.floor(ratio, out=ratio)
    if plumbing == PITOT_PORT:
        np.subtract(10000.0, ratio, out=ratio)
    np.clip(ratio, -LIMIT_BP, LIMIT_BP, out=ratio)
    out[:] = ratio
    return out


def steps_bp(plumbing: int, q_dpa: np.ndarray, ratio_bp: np.ndarray, pitot_step: int,
             angled_step: int) -> np.ndarray:
    """`pressure_ratio.step_bp`, float64 of whole numbers."""
    gain = ratio_bp.astype(np.float64)
    if plumbing == PITOT_PORT:
        np.subtract(10000.0, gain, out=gain)
    np.abs(gain, out=gain)
    gain *= pitot_step
    gain += angled_step * 10000
    gain /= np.maximum(q_dpa, 1)
    return np.floor(gain, out=gain)


def step_most_bp(plumbing: int, ratio_bp: np.ndarray, pitot_step: int, angled_step: int) -> int:
    """No `step_bp` of these ratios, times its q in 0.1 Pa, is more."""
    gains = [int(ratio_bp.min()), int(ratio_bp.max())]
    if plumbing == PITOT_PORT:
        gains = [10000 - gain for gain in gains]
    return angled_step * 10000 + max(abs(gain) for gain in gains) * pitot_step


class CurveTable:
    """One lift curve as tables over every ratio there is; asked from the firmware's own curve.

    stall_bp: see `LiftCurve`. steepest: most lift (1/1000) a step of ratio (1/10 000) can make.
    Tables are indexed by the ratio's 16 bits, so that a negative ratio lies at the end.
    """

    def __init__(self, points) -> None:
        curve = LiftCurve(points)
        self.stall_bp = curve.stall_bp
        self._lift = np.zeros(1 << 16, np.int16)
        self._segment = np.zeros(1 << 16, np.int8)
        for ratio in range(-LIMIT_BP, LIMIT_BP + 1):  # rising: the curve's walk stays short
            self._lift[ratio] = curve.lift_pm(ratio)
            self._segment[ratio] = curve._segment
        self._runs, self._rises = np.diff(np.array(points, np.float64), axis=0).T
        self.steepest = float((self._rises / self._runs).max())

    def lift_pm(self, ratio_bp: np.ndarray, out: np.ndarray) -> None:
        """`LiftCurve.lift_pm` into out, int16."""
        np.take(self._lift, ratio_bp.view(np.uint16), out=out, mode="clip")

    def slack_pm(self, ratio_bp: np.ndarray, steps_bp: np.ndarray) -> np.ndarray:
        """Twice `LiftCurve.step_pm`, int16."""
        segment = np.take(self._segment, ratio_bp.view(np.uint16))
        step = steps_bp * self._rises[segment]
        step /= self._runs[segment]
        np.floor(step, out=step)
        return (2 * np.minimum(step, LIFT_MOST_PM)).astype(np.int16)


@lru_cache(maxsize=16)
def table_of(points: tuple[tuple[int, int], ...]) -> CurveTable:
    """The tables of a curve; flights of one wing share them."""
    return CurveTable(points)
