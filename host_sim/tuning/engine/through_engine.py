"""What the unit decides on a flight with a candidate's settings, by the engine or the firmware.

The engine (`prepared`, `decided`) decides as the firmware does as long as no doubt about the
pressures is raised; `by_firmware` asks the firmware itself, and `differing` compares.
"""

from collections.abc import Iterable, Iterator
from types import SimpleNamespace

import numpy as np

from host_sim.output.trace import column
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import run_blocks

use_firmware()

from alula.settings import Settings, load  # noqa: E402
from host_sim.tuning.engine.conditioned import Conditioned  # noqa: E402
from host_sim.tuning.engine.decisions import Decisions  # noqa: E402
from host_sim.tuning.engine.prepared import Prepared  # noqa: E402
from host_sim.tuning.engine.stream import Records  # noqa: E402
from host_sim.tuning.fleet.flights import TuneFlight  # noqa: E402

KINDS = ("state", "health", "pulse_millihz", "tone_hz")


class Shown:
    """q_dpa, ratio_bp, lift_pm of every row; `session.UNKNOWN` where the unit knows none."""

    def __init__(self, q_dpa: np.ndarray, ratio_bp: np.ndarray, lift_pm: np.ndarray) -> None:
        self.q_dpa, self.ratio_bp, self.lift_pm = q_dpa, ratio_bp, lift_pm


class Short:
    """A flight in one stretch, made ready: for signals of seconds. time_ms: of every row."""

    def __init__(self, flight: TuneFlight) -> None:
        self.flight = flight
        rows = flight.rows
        self.time_ms = rows[:, 0]
        self._prepared = Prepared(rows, records(flight))

    def shown(self, record: dict) -> Shown:
        """What the unit knows with a settings record."""
        settings = load(record)[0]
        return shown_in(self._prepared, self._prepared.conditioned(settings), settings)


def records(flight: TuneFlight) -> Records:
    """What the engine needs of a flight beside its rows."""
    return SimpleNamespace(settings=flight.settings, curves=flight.curves, zero=flight.zero_dpa)


def shown_in(stretch: Prepared, group: Conditioned, settings: Settings) -> Shown:
    """What the unit knows at each of a stretch's own ticks."""
    ticks = stretch.ticks
    q_dpa, _, ratio_bp, lift_pm = group.shown(settings.min_q_dpa, ticks.first, len(ticks))
    return Shown(q_dpa, ratio_bp, lift_pm)


def by_firmware(flight: TuneFlight, record: dict) -> Iterator[Decisions]:
    """What the firmware decides, tick by tick, a stretch at a time; slow."""
    first = 0
    for out in run_blocks(flight.blocks(), flight.stream(record)):
        parts = [column(out, name) for name in KINDS]
        changed = np.zeros(len(out), bool)
        changed[:1] = True
        for part in parts:
            changed[1:] |= part[1:] != part[:-1]
        rows = np.flatnonzero(changed)
        yield Decisions(first + rows, *(part[rows] for part in parts))
        first += len(out)


def differing(one: Decisions, other: Decisions, rows: int) -> list[list[int]]:
    """Where two decide otherwise on a stretch, of which `rows` is the row after the last: [first
    row, row after the last], rising."""
    edges = np.unique(np.r_[one.rows, other.rows])
    same = np.ones(len(edges), bool)
    for kind in KINDS:
        held = [getattr(each, kind)[np.searchsorted(each.rows, edges, "right") - 1]
                for each in (one, other)]
        same &= held[0] == held[1]
    return joined([first, after] for first, after, alike in zip(
        edges.tolist(), [*edges[1:].tolist(), rows], same.tolist(), strict=True) if not alike)


def joined(spans: Iterable[list[int]]) -> list[list[int]]:
    """Spans in order, those that touch as one."""
    found: list[list[int]] = []
    for first, after in spans:
        if found and found[-1][1] == first:
            found[-1][1] = after
        else:
            found.append([first, after])
    return found
