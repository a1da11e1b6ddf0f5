"""The engine held to the firmware: the same flight, the same settings, everything compared.

The engine is exact while no doubt about the pressures is raised (see `decided`). Whoever acts on a
candidate, runs the firmware on it, and takes the firmware's word where the two differ.
"""

from collections.abc import Iterator

import numpy as np

from alula.settings import Settings
from alula.unit import Unit
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import OUT_COLUMNS, WordSession
from host_sim.tuning.conditioned import Conditioned, Prepared, prepare
from host_sim.tuning.decided import decide
from host_sim.tuning.decisions import Decisions
from host_sim.tuning.stream import Recorded

COMPARED = ("pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state", "health",
            "pulse_millihz", "tone_hz")
_AT = [OUT_COLUMNS.index(name) for name in COMPARED]
BLOCK_ROWS = 4096


def verify(flight: Recorded, settings: Settings, unit: Unit | None = None) -> np.ndarray:
    """Rows, rising, on which engine and firmware differ in anything of COMPARED: none, where no
    doubt was raised. Takes as long as a replay: seconds for a minute of a hundred.

    settings: checked. unit: for tests, instead of one made here.
    """
    unit = unit or Unit(settings, flight.curves, flight.zero)
    prepared = prepare(flight)
    group = prepared.conditioned(settings)
    decisions = decide(prepared, group, settings)
    found = [np.zeros(0, np.intp)]
    for lo, true in _by_firmware(flight, unit):
        mine = by_engine(prepared, group, decisions, settings, lo, lo + len(true))
        found.append(lo + np.flatnonzero((mine != true).any(axis=1)))
    return np.concatenate(found)


def by_engine(prepared: Prepared, group: Conditioned, decisions: Decisions, settings: Settings,
              lo: int, hi: int) -> np.ndarray:
    """What the engine says of rows lo..hi-1: int32, columns as COMPARED."""
    rows_at = prepared.ticks.rows_at
    at = np.searchsorted(rows_at, np.arange(lo, hi), side="right") - 1
    first, last = int(at[0]), int(at[-1]) + 1
    shown = np.stack(group.shown(settings.min_q_dpa, first, last), axis=1)
    return np.concatenate([shown[at - first], decisions.of_rows(lo, hi)], axis=1)


def _by_firmware(flight: Recorded, unit: Unit) -> Iterator[tuple[int, np.ndarray]]:
    """(first row, int32 columns as COMPARED), block by block."""
    session = WordSession(unit)
    for lo in range(0, len(flight.rows), BLOCK_ROWS):
        yield lo, run_rows(session, flight.rows[lo:lo + BLOCK_ROWS])[:, _AT]
