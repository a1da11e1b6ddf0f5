"""What an ideal unit would read from words: decoded, smoothed, divided, by the true calibration.

Own floats; nothing of the firmware is used. It tells from when on a fault makes a difference.
"""

import numpy as np

from host_sim.world.calibration_truth import true_calibration
from host_sim.world.flight import Flight
from host_sim.world.sensors import OUTPUT_LIMITS, SensorModel

_WINDOW = 20  # samples, 0.2 s, as the unit's own default
_LEAST_Q_PA = 65.0
BEYOND = 9.0  # a lift share that cannot be: there is no dynamic pressure


def pressures_pa(codes: np.ndarray, sensor: SensorModel) -> np.ndarray:
    """Pressures from a 14-bit sensor's codes, less its zero error, smoothed."""
    low, high = OUTPUT_LIMITS[sensor.output]
    felt = ((codes - low) / (high - low) * 2.0 - 1.0) * sensor.range_pa - sensor.zero_error_pa
    padded = np.concatenate([np.full(_WINDOW - 1, felt[0]), felt])
    return np.convolve(padded, np.full(_WINDOW, 1.0 / _WINDOW), "valid")


def lift_read(flight: Flight, rows: np.ndarray, span: slice) -> np.ndarray:
    """Lift share from the words in rows of `span`; `BEYOND` where there is hardly any q."""
    q = pressures_pa(rows[span, 2], flight.scenario.pitot_sensor)
    angled = pressures_pa(rows[span, 4], flight.scenario.angled_sensor)
    ratio = angled / np.maximum(q, _LEAST_Q_PA)
    if flight.plumbing == "pitot-port":
        ratio = 1.0 - ratio
    lift = np.empty(len(q))
    flaps = flight.flap[span]
    for flap in np.unique(flaps).tolist():
        points = np.array(true_calibration(flight.airframe, flight.scenario.probe,
                                           flight.plumbing, flap)) / (10000.0, 1000.0)
        here = flaps == flap
        lift[here] = _on_curve(ratio[here], points)
    lift[q < _LEAST_Q_PA] = BEYOND
    return lift


def _on_curve(ratio: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Straight lines between points, the first and the last carried on; 0 to 1.5."""
    (x0, y0), (x1, y1) = points[:2]
    (x2, y2), (x3, y3) = points[-2:]
    lift = np.interp(ratio, points[:, 0], points[:, 1])
    lift = np.where(ratio < x0, y0 + (ratio - x0) * (y1 - y0) / (x1 - x0), lift)
    lift = np.where(ratio > x3, y3 + (ratio - x3) * (y3 - y2) / (x3 - x2), lift)
    return np.clip(lift, 0.0, 1.5)
