"""The picture of a calibration: lift (n/q or 1/q) against ratio, all runs on top of each other."""

from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402
import numpy as np  # noqa: E402
from matplotlib.axes import Axes  # noqa: E402

from host_sim.output.whole_file import whole_file  # noqa: E402
from host_sim.runtimes.capture_runs import Captured, Run  # noqa: E402

BEFORE_S, AFTER_S = 20.0, 3.0
MEAN_S = 0.5
COLOURS = ("#8f2d56", "#2b6c8f", "#b07d12", "#4d7a3a", "#5b4a8a", "#7a4b2d")


def draw(path: Path, captured: list[Captured], calibration: dict | None) -> None:
    """Write a PNG. Runs are scaled so that their own peak is 1; refused ones are thin and grey."""
    figure, axis = plt.subplots(figsize=(9, 6.5), layout="constrained")
    figure.suptitle("Stall runs: lift against pressure ratio\n"
                    "prove it in flight; a supplement, never the primary stall warning",
                    fontsize=11)
    runs = [(flight, run) for flight in captured for run in flight.runs]
    for number, (flight, run) in enumerate(runs):
        _draw_run(axis, flight, run, number)
    for curve in (calibration or {}).get("curves", [calibration] if calibration else []):
        points = np.array(curve["points"])
        axis.plot(points[:, 0] / 10000, points[:, 1] / 1000, "o-", color="black", lw=1.5, ms=5,
                  label=f"calibration, flap {curve['flap']}")
    axis.set_xlabel("pressure ratio (lines: where each run puts the stall)")
    axis.set_ylabel("lift, n/q or 1/q, as a share of the run's peak")
    axis.set_ylim(0.2, 1.15)
    axis.grid(alpha=0.3)
    if axis.get_legend_handles_labels()[0]:
        axis.legend(fontsize=8, loc="lower right")
    else:
        axis.text(0.5, 0.5, "no stall run found", transform=axis.transAxes, ha="center")
    with whole_file(path) as temporary:
        figure.savefig(temporary, dpi=100, format="png")
    plt.close(figure)


def _draw_run(axis: Axes, flight: Captured, run: Run, number: int) -> None:
    """The points of one run, and a line where it puts the stall."""
    colour = COLOURS[number % len(COLOURS)] if run.accepted else "#bbbbbb"
    label = f"{number + 1}: {run.file}, {run.stall_time_s:.0f} s, {run.refusal or 'accepted'}"
    ratio, lift = _cloud(flight, run.stall_time_s)
    axis.plot(ratio, lift, ".", ms=2, color=colour, alpha=0.5)
    if run.stall_ratio_bp is not None:
        axis.axvline(run.stall_ratio_bp / 10000, color=colour, lw=1,
                     ls="-" if run.accepted else ":", label=label)
    else:
        axis.plot([], [], ".", color=colour, label=label)


def _cloud(flight: Captured, stall_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Half-second means of ratio and lift around a stall; lift as a share of its own peak."""
    near = ((flight.time_s > stall_s - BEFORE_S) & (flight.time_s < stall_s + AFTER_S)
            & np.isfinite(flight.ratio_bp))
    time_s = flight.time_s[near]
    if len(time_s) < 2:
        return np.zeros(0), np.zeros(0)
    width = max(1, round(MEAN_S / float(np.median(np.diff(time_s)))))
    kernel = np.ones(width) / width
    ratio, lift = (np.convolve(values[near], kernel, "valid")
                   for values in (flight.ratio_bp, flight.lift))
    return ratio / 10000, lift / lift.max() if len(lift) else lift
