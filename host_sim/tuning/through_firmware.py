"""What the unit decides on a flight with a candidate's settings.

`prepare` does what no candidate changes, `conditioned` what a smoothing changes, `decide` the
rest: one small interface for all that measures. Here the firmware itself runs, tick by tick.
"""

from dataclasses import dataclass

import numpy as np

from host_sim.output.trace import column
from host_sim.runtimes.run import run_stream
from host_sim.tuning.flights import TuneFlight


@dataclass(frozen=True)
class Decisions:
    """Change points. rows: row from which the other four hold, until the next."""

    rows: np.ndarray
    state: np.ndarray
    health: np.ndarray
    pulse_millihz: np.ndarray
    tone_hz: np.ndarray


@dataclass(frozen=True)
class Group:
    """q_dpa, ratio_bp, lift_pm of every tick; `session.UNKNOWN` where the unit knows none."""

    q_dpa: np.ndarray
    ratio_bp: np.ndarray
    lift_pm: np.ndarray
    decisions: Decisions


@dataclass
class Prepared:
    """A flight, unpacked. Holds the last group only."""

    flight: TuneFlight
    rows: np.ndarray

    def __post_init__(self) -> None:
        self._key: str = ""
        self._group: Group | None = None

    @property
    def time_ms(self) -> np.ndarray:
        """Time of every tick."""
        return self.rows[:, 0]

    def conditioned(self, settings: dict) -> Group:
        """The pressures as a settings record smooths them."""
        key = repr(sorted(settings.items()))
        if self._group is None or key != self._key:
            self._key, self._group = key, self._run(settings)
        return self._group

    def _run(self, settings: dict) -> Group:
        out = run_stream(self.flight.stream(settings))
        parts = [column(out, name) for name in ("state", "health", "pulse_millihz", "tone_hz")]
        changed = np.zeros(len(out), bool)
        changed[:1] = True
        for part in parts:
            changed[1:] |= part[1:] != part[:-1]
        at = np.flatnonzero(changed)
        q_dpa, ratio_bp, lift_pm = (np.ascontiguousarray(column(out, name))
                                    for name in ("pitot_dpa", "ratio_bp", "lift_pm"))
        return Group(q_dpa, ratio_bp, lift_pm, Decisions(at, *(part[at] for part in parts)))


def prepare(flight: TuneFlight) -> Prepared:
    """Unpack a flight."""
    return Prepared(flight, flight.rows)


def decide(prepared: Prepared, group: Group, settings: dict) -> Decisions:
    """The unit's decisions. settings: the record that `group` was conditioned with."""
    return group.decisions
