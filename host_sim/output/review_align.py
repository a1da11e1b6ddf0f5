"""Lays two logs of the same flight on one time axis, by their dynamic pressure.

For every offset the correlation coefficient of the two pressures over the common time is computed
(sums over the overlap by the fast Fourier transform, as for any cross-correlation); the offset
with the largest one counts, refined by a parabola through it and its neighbours.
"""

import numpy as np

from host_sim.errors import UsageError
from host_sim.output.review_flight import ReviewFlight

GRID_S = 0.05
LEAST_OVERLAP = 0.5  # of the shorter log
LEAST_OVERLAP_S = 10.0
LEAST_CORRELATION = 0.95


def align(one: ReviewFlight, two: ReviewFlight) -> tuple[float, float]:
    """(what must be added to the second log's time since its first row to get the first's, in s;
    correlation of the dynamic pressures there). UsageError where they do not overlap."""
    a, b = _on_grid(one), _on_grid(two)
    r, count = _correlations(a, b)
    shorter = min(len(a), len(b))
    least = max(LEAST_OVERLAP * shorter, LEAST_OVERLAP_S / GRID_S)
    r = np.where(count >= least, r, -1.0)
    best = int(np.argmax(r))
    if r[best] < LEAST_CORRELATION:
        raise UsageError(
            f"{one.name} and {two.name} do not overlap: their dynamic pressures agree to "
            f"{max(float(r[best]), 0.0):.2f} at best, {LEAST_CORRELATION} is needed over at least "
            f"half of the shorter and {LEAST_OVERLAP_S:.0f} s; give two logs of the same flight")
    return (best - (len(b) - 1) + _vertex(r, best)) * GRID_S, float(r[best])


def _on_grid(flight: ReviewFlight) -> np.ndarray:
    """Dynamic pressure every GRID_S from the first row on; NaN where none is known near by."""
    times_s = flight.now_ms / 1000
    there = np.isfinite(flight.q_dpa)
    grid = np.arange(0.0, times_s[-1] + GRID_S / 2, GRID_S)
    if not there.any():
        return np.full(len(grid), np.nan)
    values = np.interp(grid, times_s[there], flight.q_dpa[there])
    after = np.searchsorted(times_s[there], grid).clip(0, there.sum() - 1)
    near = np.minimum(abs(times_s[there][after] - grid),
                      abs(times_s[there][np.maximum(after - 1, 0)] - grid))
    return np.where(near <= 2 * GRID_S, values, np.nan)


def _correlations(a: np.ndarray, b: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Correlation coefficient and number of common points for every offset of b against a, from
    -(len(b) - 1) on."""
    size = 1 << (len(a) + len(b) - 1).bit_length()
    mask_a, mask_b = np.isfinite(a), np.isfinite(b)
    scale = max(float(np.nanstd(a)) if mask_a.any() else 0.0, 1.0)
    a = np.where(mask_a, a - (np.nanmean(a) if mask_a.any() else 0), 0.0) / scale
    b = np.where(mask_b, b - (np.nanmean(b) if mask_b.any() else 0), 0.0) / scale

    def cross(left: np.ndarray, right: np.ndarray) -> np.ndarray:
        product = np.fft.rfft(left, size) * np.conj(np.fft.rfft(right, size))
        full = np.fft.irfft(product, size)
        return np.r_[full[size - len(b) + 1:], full[:len(a)]]

    count = np.rint(cross(mask_a.astype(float), mask_b.astype(float)))
    safe = np.maximum(count, 1)
    mean_a, mean_b = cross(a, mask_b.astype(float)) / safe, cross(mask_a.astype(float), b) / safe
    vary_a = cross(a * a, mask_b.astype(float)) / safe - mean_a ** 2
    vary_b = cross(mask_a.astype(float), b * b) / safe - mean_b ** 2
    both = np.sqrt(np.maximum(vary_a, 0) * np.maximum(vary_b, 0))
    together = cross(a, b) / safe - mean_a * mean_b
    return np.where(both > 1e-4, together / np.maximum(both, 1e-4), 0.0), count


def _vertex(r: np.ndarray, best: int) -> float:
    """Where a parabola through the best value and its neighbours peaks, -0.5 to 0.5."""
    if not 0 < best < len(r) - 1:
        return 0.0
    left, mid, right = r[best - 1:best + 2]
    curve = left - 2 * mid + right
    return 0.0 if curve >= 0 or min(left, right) <= -1 else float(0.5 * (left - right) / curve)
