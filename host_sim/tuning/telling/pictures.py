"""The pictures of a tuning's page: SVG, the same bytes for the same numbers."""

import io
import re
from typing import Any

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402
import numpy as np  # noqa: E402
from matplotlib.axes import Axes  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402

from host_sim.output.review_stalls import LEAST_KT  # noqa: E402
from host_sim.tuning.choosing.result import Tuning  # noqa: E402
from host_sim.tuning.choosing.verdict import why_not  # noqa: E402
from host_sim.tuning.measuring.bench_signals import SPEEDS, raw_noise_pm  # noqa: E402
from host_sim.tuning.measuring.judged import Judged  # noqa: E402
from host_sim.tuning.measuring.theory import best_line  # noqa: E402

# Told apart by shape and by lightness, so that they also read in grey (as the flight picture).
SHIPPED, PROPOSAL, LINE = "#000000", "#8f2d56", "#0072b2"
_STYLE: Any = {"svg.hashsalt": "alula", "svg.fonttype": "none", "font.size": 12,
          "font.family": "sans-serif"}


def _svg(figure: Figure) -> str:
    """The picture as an element for a page, described for those who do not see it."""
    text = io.StringIO()
    figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    plt.close(figure)
    found = text.getvalue()
    return re.sub(r' (width|height)="[\d.]+pt"', "", found[found.index("<svg"):], count=2)


def trade_off(tuning: Tuning) -> str:
    """Delay against noise: all candidates, the front, shipped, proposal and the best line."""
    with plt.rc_context(_STYLE):
        figure, axis = plt.subplots(figsize=(10, 6), layout="constrained")
        good = [one for one in tuning.judged if tuning.chooser.keeps(one)]
        bad = [one for one in tuning.judged if not tuning.chooser.keeps(one)]
        if bad:
            axis.scatter([1000 * one.delay_s for one in bad], [one.noise_pm for one in bad],
                         marker="x", s=18, color="#999999", label="breaks a rule")
        dots = axis.scatter([1000 * one.delay_s for one in good], [one.noise_pm for one in good],
                            c=[one.all.unrest for one in good], cmap="viridis_r", s=30,
                            label="keeps the rules")
        figure.colorbar(dots, label="unrest (see Definitions)")
        axis.scatter([1000 * one.delay_s for one in tuning.front],
                     [one.noise_pm for one in tuning.front], s=110, facecolors="none",
                     edgecolors="#000000", label="on the front")
        _best(axis, tuning)
        _both(axis, tuning, lambda one: (1000 * one.delay_s, one.noise_pm))
        axis.set_xlabel("delay: most lag at 3 deg/s, ms")
        axis.set_ylabel("noise of lift at 1.20 Vs, per mille")
        axis.grid(alpha=0.3)
        axis.legend()
        return _svg(figure)


def _best(axis: Axes, tuning: Tuning) -> None:
    """The steady-state two-state Kalman filter (Benedict-Bordner gains) on the bare words."""
    line = best_line(tuning.wing.period_ms / 1000.0, np.geomspace(0.03, 0.6, 40))
    raw = raw_noise_pm(tuning.wing, SPEEDS[1])
    most_ms = 1000 * max(one.delay_s for one in tuning.judged) * 1.3 + 5
    shown = [(1000 * lag_s, raw * gain) for lag_s, gain in line if 1000 * lag_s <= most_ms]
    if shown:
        axis.plot(*zip(*shown, strict=True), color=LINE, lw=2, ls="--",
                  label="best two-state filter (theory)")


def _both(axis: Axes, tuning: Tuning, place) -> None:
    """Shipped and proposal; `place` gives x and y of one."""
    for one, colour, marker, size, label in (
            (tuning.shipped, SHIPPED, "s", 130, "shipped"),
            (tuning.proposal, PROPOSAL, "*", 330, "proposal")):
        x, y = place(one)
        axis.scatter(x, y, color=colour, marker=marker, s=size, zorder=5, label=label)


def unrest(tuning: Tuning) -> str:
    """Delay and noise, each against unrest: the other two sides of the same front."""
    with plt.rc_context(_STYLE):
        figure, axes = plt.subplots(1, 2, figsize=(10, 4.2), sharey=True, layout="constrained")
        sides = ((lambda one: 1000 * one.delay_s, "delay at 3 deg/s, ms"),
                 (lambda one: one.noise_pm, "noise at 1.20 Vs, per mille"))
        for axis, (number, label) in zip(axes, sides, strict=True):
            axis.scatter([number(one) for one in tuning.front],
                         [one.all.unrest for one in tuning.front], s=60, facecolors="none",
                         edgecolors="#000000", label="on the front")
            _both(axis, tuning, lambda one, number=number: (number(one), one.all.unrest))
            axis.set_xlabel(label)
            axis.grid(alpha=0.3)
        axes[0].set_ylabel("unrest")
        axes[0].legend()
        return _svg(figure)


def sensitivity(tuning: Tuning) -> str:
    """How much the cost grows if one setting of the proposal is moved."""
    names = [axis.name for axis in tuning.axes]
    base = tuning.chooser.total(tuning.proposal)
    with plt.rc_context(_STYLE):
        figure, axis = plt.subplots(figsize=(10, 1.2 + 0.55 * len(names)), layout="constrained")
        for side in tuning.sides:
            row = names.index(side.name) + 0.18 * side.side
            why = why_not(tuning, side.judged)
            grows = 0.0 if why else side.cost - base
            axis.barh(row, grows, height=0.32, color=LINE if side.side > 0 else "#e8b04a")
            axis.annotate(f" {side.value}" + (f": {why}" if why else ""), (grows, row),
                          va="center", fontsize=10)
        axis.set_yticks(range(len(names)), [f"{name}\n{dict(tuning.proposal.values)[name]}"
                                            for name in names])
        axis.invert_yaxis()
        axis.margins(x=0.2)
        axis.axvline(0, color="black", lw=1)
        axis.set_xlabel("cost, more than the proposal's (less is better)")
        return _svg(figure)


def leads(tuning: Tuning) -> str:
    """Every stall: how soon it was warned of, and with what margin."""
    with plt.rc_context(_STYLE):
        figure, axes = plt.subplots(1, 2, figsize=(10, 4.2), layout="constrained")
        for one, colour, marker, label in ((tuning.shipped, SHIPPED, "s", "shipped"),
                                           (tuning.proposal, PROPOSAL, "*", "proposal")):
            for axis, values in zip(axes, (_leads(one), one.all.margins_kt), strict=True):
                axis.plot(range(1, len(values) + 1), values, marker, color=colour, label=label,
                          markersize=11, fillstyle="none" if marker == "s" else "full")
        axes[0].set_ylabel("warning lead, s")
        axes[1].set_ylabel("margin at onset, kt (slow entries)")
        axes[1].axhline(LEAST_KT, color="black", ls=":", label=f"{LEAST_KT:.0f} kt")
        for axis in axes:
            axis.set_xlabel("stall, in the order of the flights")
            axis.margins(y=0.15)
            axis.set_ylim(0, 1.12 * axis.dataLim.y1)
            axis.xaxis.get_major_locator().set_params(integer=True)
            axis.grid(alpha=0.3)
            axis.legend()
        return _svg(figure)


def _leads(one: Judged) -> list[float]:
    return [stall["lead_s"] or 0.0 for flight in one.seen for stall in flight["stalls"]]
