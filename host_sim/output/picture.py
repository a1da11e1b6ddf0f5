"""One picture of a run: speed, ratio, lift with its bands, and what was heard."""

from pathlib import Path

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402
import numpy as np  # noqa: E402
from matplotlib.axes import Axes  # noqa: E402

from host_sim.output.changes import speeds_kt  # noqa: E402
from host_sim.output.trace import column, known  # noqa: E402
from host_sim.output.whole_file import whole_file  # noqa: E402
from host_sim.runtimes.paths import use_firmware  # noqa: E402

use_firmware()

from alula import states  # noqa: E402
from alula.settings import Settings  # noqa: E402

# Told apart by lightness as well as by hue, so that they also read in grey.
BAND_COLOURS = ("#ffffff", "#d9ead3", "#e8b04a", "#8f2d56", "#9a9a9a", "#cfcfe8")
CAUTION = "a supplement, never the primary stall warning"


def draw(path: Path, out: np.ndarray, settings: Settings, title: str,
         stalls_s: list[float] | None = None, first_ms: int = 0) -> None:
    """Write a PNG. stalls_s: true stalls of a simulated flight, marked by lines."""
    time_s = (column(out, "now_ms") + float(first_ms)) / 1000  # since 1970 it outgrows 32 bits
    figure, axes = plt.subplots(4, 1, figsize=(12, 9), sharex=True,
                                height_ratios=(2, 2, 3, 2), layout="constrained")
    figure.suptitle(f"{title}\n{CAUTION}", fontsize=11)
    _speeds(axes[0], time_s, out)
    axes[1].plot(time_s, known(out, "ratio_bp") / 10000, color="black", lw=0.8)
    axes[1].set_ylabel("pressure ratio")
    _lift(axes[2], time_s, out, settings)
    _heard(axes[3], time_s, out)
    for axis in axes:
        axis.grid(alpha=0.3)
        for stall_s in stalls_s or []:
            axis.axvline(stall_s, color="black", ls=":", lw=1)
    axes[-1].set_xlabel("time, s" + (" (dotted: the wing stalls)" if stalls_s else ""))
    with whole_file(path) as temporary:
        figure.savefig(temporary, dpi=100, format="png")
    plt.close(figure)


def _speeds(axis: Axes, time_s: np.ndarray, out: np.ndarray) -> None:
    axis.plot(time_s, speeds_kt(out), color="black", lw=1, label="pitot, as IAS")
    angled = known(out, "angled_dpa") / 10
    other = axis.twinx()
    other.plot(time_s, angled, color="#8f2d56", lw=0.7, label="angled sensor")
    other.set_ylabel("angled, Pa", color="#8f2d56")
    axis.set_ylabel("IAS, kt")


def _lift(axis: Axes, time_s: np.ndarray, out: np.ndarray, settings: Settings) -> None:
    starts = [0, settings.calm_pm, settings.pressing_pm, settings.stalling_pm, 1500]
    for i in range(4):
        axis.axhspan(starts[i] / 1000, starts[i + 1] / 1000, color=BAND_COLOURS[i], alpha=0.6,
                     lw=0, label=states.WORDS[i])
    axis.axhline(1, color="black", lw=0.8)
    axis.plot(time_s, known(out, "lift_pm") / 1000, color="black", lw=1)
    axis.set_ylim(0, 1.3)
    axis.set_ylabel("lift in use\nCL / CLmax")
    axis.legend(loc="upper left", fontsize=8, ncols=4)


def _heard(axis: Axes, time_s: np.ndarray, out: np.ndarray) -> None:
    """Pulse rate as a line, over a strip coloured by the state."""
    state = column(out, "state")
    pulses = column(out, "pulse_millihz") / 1000
    for i, word in enumerate(states.WORDS):
        if (state == i).any():
            axis.fill_between(time_s, 0, 10, where=state == i, step="post",
                              color=BAND_COLOURS[i], alpha=0.8, lw=0, label=word)
    axis.step(time_s, pulses, where="post", color="black", lw=0.8)
    axis.set_ylim(0, 10)
    axis.set_ylabel("heard:\npulses a second")
    axis.legend(loc="upper left", fontsize=8, ncols=6)
