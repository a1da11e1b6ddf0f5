"""Faults of sensors, hoses and wires, laid over what the sensors would have sent.

Works on input rows of the bench (`runtimes.session.IN_COLUMNS`): codes and statuses of both
sensors, one row a tick. Codes and numbers of this file are the world's own.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from host_sim.errors import UsageError

STALE, NO_REPLY, SENSOR_FAULT = 1, 2, 3
_COLUMN = {"pitot": (1, 2), "angled": (3, 4)}  # status, code
_TOP_CODE = 16383
_PA_PER_CODE = 1.052  # +-1 psi over 80 % of 14 bits
_RADIO_PA, _RADIO_NOISE_PA = 200.0, 20.0
_LOST_SHARE = 0.3

Change = Callable[[np.ndarray, slice, np.random.Generator], None]


@dataclass(frozen=True)
class Fault:
    """text: one line for people. seconds: how long it lasts by default; 0 is to the end."""

    text: str
    change: Change
    seconds: float = 0.0


def _status(name: str, value: int) -> Change:
    def change(rows: np.ndarray, span: slice, _: np.random.Generator) -> None:
        rows[span, _COLUMN[name][0]] = value
    return change


def _both_silent(rows: np.ndarray, span: slice, rng: np.random.Generator) -> None:
    for name in _COLUMN:
        _status(name, NO_REPLY)(rows, span, rng)


def _frozen(name: str) -> Change:
    def change(rows: np.ndarray, span: slice, _: np.random.Generator) -> None:
        rows[span, _COLUMN[name][1]] = rows[span.start, _COLUMN[name][1]]
    return change


def _rail(name: str) -> Change:
    def change(rows: np.ndarray, span: slice, _: np.random.Generator) -> None:
        rows[span, _COLUMN[name][1]] = _TOP_CODE
    return change


def _off(name: str) -> Change:
    """The hose is off: from one tick to the next the sensor feels cabin air on both sides."""
    def change(rows: np.ndarray, span: slice, rng: np.random.Generator) -> None:
        column = _COLUMN[name][1]
        still = rows[:200, column].mean()  # before the flight the aeroplane stands
        rows[span, column] = np.rint(still + rng.normal(0, 1, span.stop - span.start))
    return change


def _radio(rows: np.ndarray, span: slice, rng: np.random.Generator) -> None:
    """A transmitter upsets both sensors: a step and noise, beginning and ending sharply."""
    for _, column in _COLUMN.values():
        push = _RADIO_PA + _RADIO_NOISE_PA * rng.standard_normal(span.stop - span.start)
        rows[span, column] = np.clip(rows[span, column] + push / _PA_PER_CODE, 0, _TOP_CODE)


def _bad_wire(rows: np.ndarray, span: slice, rng: np.random.Generator) -> None:
    """Three reads in ten fail, on either bus."""
    for column, _ in _COLUMN.values():
        lost = rng.random(span.stop - span.start) < _LOST_SHARE
        rows[span, column] = np.where(lost, NO_REPLY, rows[span, column])


FAULTS = {
    "pitot-silent": Fault("the pitot sensor does not answer", _status("pitot", NO_REPLY)),
    "angled-silent": Fault("the angled sensor does not answer", _status("angled", NO_REPLY)),
    "both-silent": Fault("neither sensor answers", _both_silent),
    "pitot-stale": Fault("the pitot sensor makes no new conversions", _status("pitot", STALE)),
    "angled-stale": Fault("the angled sensor makes no new conversions",
                          _status("angled", STALE)),
    "pitot-sick": Fault("the pitot sensor reports a fault", _status("pitot", SENSOR_FAULT)),
    "angled-sick": Fault("the angled sensor reports a fault", _status("angled", SENSOR_FAULT)),
    "pitot-frozen": Fault("the pitot sensor repeats one word", _frozen("pitot")),
    "angled-frozen": Fault("the angled sensor repeats one word", _frozen("angled")),
    "pitot-rail": Fault("the pitot sensor is beyond its range", _rail("pitot")),
    "angled-rail": Fault("the angled sensor is beyond its range", _rail("angled")),
    "pitot-off": Fault("the pitot hose comes off", _off("pitot")),
    "angled-off": Fault("the angled hose comes off", _off("angled")),
    "radio": Fault("a transmission upsets both sensors", _radio, 5.0),
    "bad-wire": Fault("three reads in ten fail", _bad_wire, 10.0),
}


def inject(rows: np.ndarray, wanted: str, seed: int) -> tuple[np.ndarray, str]:
    """Rows with a fault laid over, and a line that says what and when.

    wanted: NAME, NAME@TIME or NAME@TIME+SECONDS, times in s since the start; without a time the
    middle of the flight. UsageError for a name or a time that there is not.
    """
    found = re.fullmatch(r"([a-z-]+)(?:@(\d+(?:\.\d+)?))?(?:\+(\d+(?:\.\d+)?))?", wanted)
    if not found or found[1] not in FAULTS:
        raise UsageError(f"--fault {wanted}: write NAME, NAME@TIME or NAME@TIME+SECONDS; names "
                         f"are {', '.join(FAULTS)}")
    fault = FAULTS[found[1]]
    end_s = float(rows[-1, 0]) / 1000
    at_s = float(found[2]) if found[2] else end_s / 2
    if not 2.0 <= at_s < end_s:
        raise UsageError(f"--fault {wanted}: the time must lie within 2 and {end_s:.0f} s")
    seconds = float(found[3]) if found[3] else fault.seconds or end_s - at_s
    start, stop = np.searchsorted(rows[:, 0], [at_s * 1000, (at_s + seconds) * 1000])
    changed = rows.copy()
    fault.change(changed, slice(int(start), max(int(stop), int(start) + 1)),
                 np.random.default_rng([seed, 3]))
    return changed, f"from {at_s:.1f} s for {seconds:.1f} s: {fault.text}"
