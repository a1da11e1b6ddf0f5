"""The engine held to the firmware: the same flight, the same settings, every decision compared."""

from array import array
from dataclasses import dataclass

import numpy as np

from alula.settings import Settings
from alula.unit import Unit
from host_sim.runtimes.run import run_rows
from host_sim.runtimes.session import OUT_COLUMNS, UNKNOWN, WordSession
from host_sim.tuning.conditioned import Conditioned, Prepared
from host_sim.tuning.decided import decide
from host_sim.tuning.decisions import Decisions
from host_sim.tuning.stream import Recorded

COMPARED = ("pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state", "health",
            "pulse_millihz", "tone_hz")
_AT = [OUT_COLUMNS.index(name) for name in COMPARED]
BLOCK_ROWS = 4096


def by_engine(prepared: Prepared, group: Conditioned, decisions: Decisions, settings: Settings,
              lo: int, hi: int) -> np.ndarray:
    """What the engine says of rows lo..hi-1: int32, columns as COMPARED."""
    ticks = prepared.ticks
    at = np.searchsorted(ticks.rows_at, np.arange(lo, hi), side="right") - 1
    first, last = int(at[0]), int(at[-1]) + 1
    shown = np.stack(group.shown(settings.min_q_dpa, first, last), axis=1)
    return np.concatenate([shown[at - first], decisions.of_rows(lo, hi)], axis=1)
