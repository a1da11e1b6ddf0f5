"""The engine held to the firmware: the same flight, the same settings, everything compared.

The engine is exact while no doubt about the pressures is raised (see `decided`). What `alula tune`
itself compares are decisions only (`through_engine.differing`); here it is all that led to them.
"""

from collections.abc import Iterable, Iterator

import numpy as np

from alula.settings import Settings
from alula.unit import Unit
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import OUT_COLUMNS, WordSession
from host_sim.tuning.engine.conditioned import Conditioned
from host_sim.tuning.engine.decided import Course
from host_sim.tuning.engine.decisions import Decisions
from host_sim.tuning.engine.prepared import Prepared, stretches
from host_sim.tuning.engine.stream import Recorded

COMPARED = ("pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state", "health",
            "pulse_millihz", "tone_hz")
_AT = [OUT_COLUMNS.index(name) for name in COMPARED]
BLOCK_ROWS = 4096


def verify(flight: Recorded, settings: Settings, unit: Unit | None = None,
           blocks: Iterable[np.ndarray] | None = None) -> np.ndarray:
    """Rows, rising, on which engine and firmware differ in anything of COMPARED: none, where no
    doubt was raised. Takes as long as a replay: seconds for a minute of a hundred.

    settings: checked. unit: for tests, instead of one made here. blocks: the flight's rows as the
    engine takes them, stretch by stretch; all at once where not given.
    """
    session = WordSession(unit or Unit(settings, flight.curves, flight.zero))
    found, lo = [np.zeros(0, np.intp)], 0
    for rows, mine in by_engine(flight, settings, blocks):
        for start in range(0, len(rows), BLOCK_ROWS):
            true = run_rows(session, rows[start:start + BLOCK_ROWS])[:, _AT]
            differs = (mine[start:start + BLOCK_ROWS] != true).any(axis=1)
            found.append(lo + start + np.flatnonzero(differs))
        lo += len(rows)
    return np.concatenate(found)


def by_engine(flight: Recorded, settings: Settings, blocks: Iterable[np.ndarray] | None = None
              ) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """(rows, what the engine says of them: int32, columns as COMPARED), stretch by stretch."""
    course = Course(settings)
    taken: list[np.ndarray] = []
    latest = np.zeros((0, len(COMPARED)), np.int32)  # what holds until a stretch's first tick

    def noted() -> Iterator[np.ndarray]:
        for rows in [flight.rows] if blocks is None else blocks:
            taken.append(rows)
            yield rows
    for prepared in stretches(noted(), flight):
        rows = taken.pop()
        told = _told(prepared, *course.step(prepared), settings)
        ticks = prepared.ticks
        first = ticks.rows - len(rows)
        at = np.searchsorted(ticks.rows_at[ticks.first:], np.arange(first, ticks.rows),
                             side="right")
        told = np.concatenate([latest, told])
        yield rows, told[at - 1 + len(latest)]
        latest = told[-1:]


def _told(prepared: Prepared, group: Conditioned, decisions: Decisions,
          settings: Settings) -> np.ndarray:
    """Of each new tick of a stretch."""
    ticks = prepared.ticks
    shown = np.stack(group.shown(settings.min_q_dpa, ticks.first, len(ticks)), axis=1)
    return np.concatenate([shown, decisions.of_rows(ticks.rows_at[ticks.first:])], axis=1)
