"""What the unit decides on a flight with a candidate's settings, by the engine or the firmware.

The engine (`conditioned`, `decided`) decides as the firmware does as long as no doubt about the
pressures is raised; `decide_by_firmware` asks the firmware itself, and `differing` compares.
"""

from types import SimpleNamespace

import numpy as np

from host_sim.output.trace import column
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import run_stream

use_firmware()

from alula.settings import load  # noqa: E402
from host_sim.tuning.decided import decide  # noqa: E402
from host_sim.tuning.decisions import Decisions  # noqa: E402
from host_sim.tuning.flights import TuneFlight  # noqa: E402
from host_sim.tuning.prepared import prepare  # noqa: E402

_KINDS = ("state", "health", "pulse_millihz", "tone_hz")


class Shown:
    """q_dpa, ratio_bp, lift_pm of every row; `session.UNKNOWN` where the unit knows none."""

    def __init__(self, q_dpa: np.ndarray, ratio_bp: np.ndarray, lift_pm: np.ndarray) -> None:
        self.q_dpa, self.ratio_bp, self.lift_pm = q_dpa, ratio_bp, lift_pm


class Prepared:
    """A flight, unpacked and made ready. time_ms: of every row."""

    def __init__(self, flight: TuneFlight) -> None:
        self.flight = flight
        self.rows = flight.rows
        self.time_ms = self.rows[:, 0]
        zero = flight.zero
        self._engine = prepare(SimpleNamespace(
            rows=self.rows, settings=flight.settings, curves=flight.curves,
            zero=None if zero is None else (zero["pitot_dpa"], zero["angled_dpa"])))

    def shown(self, record: dict) -> Shown:
        """What the unit knows with a settings record."""
        settings = load(record)[0]
        group = self._engine.conditioned(settings)
        q_dpa, _, ratio_bp, lift_pm = group.shown(settings.min_q_dpa, 0, len(self.time_ms))
        return Shown(q_dpa, ratio_bp, lift_pm)

    def decide(self, record: dict) -> Decisions:
        """What it decides, by the engine."""
        settings = load(record)[0]
        return decide(self._engine, settings)

    def decide_by_firmware(self, record: dict) -> Decisions:
        """The same by the firmware, tick by tick; slow."""
        out = run_stream(self.flight.stream(record))
        parts = [column(out, name) for name in _KINDS]
        changed = np.zeros(len(out), bool)
        changed[:1] = True
        for part in parts:
            changed[1:] |= part[1:] != part[:-1]
        rows = np.flatnonzero(changed)
        return Decisions(rows, *(part[rows] for part in parts))


def differing(one: Decisions, other: Decisions, rows: int) -> list[list[int]]:
    """Where two decide otherwise: [first row, row after the last], rising."""
    edges = np.unique(np.r_[one.rows, other.rows])
    same = np.ones(len(edges), bool)
    for kind in _KINDS:
        held = [getattr(each, kind)[np.searchsorted(each.rows, edges, "right") - 1]
                for each in (one, other)]
        same &= held[0] == held[1]
    found: list[list[int]] = []
    for first, after, alike in zip(edges.tolist(), [*edges[1:].tolist(), rows], same.tolist(),
                                   strict=True):
        if alike:
            continue
        if found and found[-1][1] == first:
            found[-1][1] = after
        else:
            found.append([first, after])
    return found
