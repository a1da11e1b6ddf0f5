"""Faults of sensors, wires and switches: they act on what a sensor sends, word by word.

A change works in place on input rows of the bench (`runtimes.session.IN_COLUMNS`): codes and
statuses of both sensors, one row a tick. Codes and numbers of this file are the world's own.
"""

from collections.abc import Callable

import numpy as np

from host_sim.world.line_faults import When

STALE, NO_REPLY, SENSOR_FAULT = 1, 2, 3
COLUMN = {"pitot": (1, 2), "angled": (3, 4)}  # status, code
_NZ_STATUS, _NZ, _FLAP = 5, 6, 7
_FLAP_UNCLEAR = -2  # no contact of the flap switches is closed
_TOP_CODE = 16383
_TOP_BIT = 1 << 13
_PA_PER_CODE = 1.052  # +-1 psi over 80 % of 14 bits
_RADIO_NOISE_PA = 20.0
_LOST_SHARE = 0.3
_FLIPPED_SHARE = 0.02
_WILD_SHARE = 0.02
_WILD_RUNS = (1, 2, 5)
_DRIFT_PA, _DRIFT_S = 30.0, 1200.0
_BOUNCE_TICKS = (1, 40)

Change = Callable[[np.ndarray, When, np.random.Generator], None]


def status(names: tuple[str, ...], value: int) -> Change:
    """The sensors answer every read with this status."""
    def change(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
        for name in names:
            rows[when.rows, COLUMN[name][0]] = value
    return change


def frozen(names: tuple[str, ...]) -> Change:
    """The sensors repeat one word."""
    def change(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
        for name in names:
            rows[when.rows, COLUMN[name][1]] = rows[when.rows.start, COLUMN[name][1]]
    return change


def rail(name: str) -> Change:
    """The sensor is beyond its range."""
    def change(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
        rows[when.rows, COLUMN[name][1]] = _TOP_CODE
    return change


def twins(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """Both sensors give the pitot's word, e.g. one address twice on one bus."""
    for own, copied in zip(COLUMN["angled"], COLUMN["pitot"], strict=True):
        rows[when.rows, own] = rows[when.rows, copied]


def _push(rows: np.ndarray, name: str, when: When, push_pa: np.ndarray | float) -> None:
    column = COLUMN[name][1]
    codes = np.rint(rows[when.rows, column] + push_pa / _PA_PER_CODE)
    rows[when.rows, column] = np.clip(codes, 0, _TOP_CODE)


def radio(push_pa: float) -> Change:
    """A transmitter upsets both sensors: a step and noise, sharp at both ends (case E2)."""
    def change(rows: np.ndarray, when: When, rng: np.random.Generator) -> None:
        for name in COLUMN:
            noise = _RADIO_NOISE_PA * rng.standard_normal(len(when.elapsed_s))
            _push(rows, name, when, push_pa + noise)
    return change


def step(name: str, push_pa: float) -> Change:
    """The sensor's zero jumps."""
    def change(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
        _push(rows, name, when, push_pa)
    return change


def drift(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """Zeros drift with temperature, opposite on the two sensors (case C2)."""
    push_pa = _DRIFT_PA * np.clip(when.elapsed_s / _DRIFT_S, 0.0, 1.0)
    _push(rows, "pitot", when, push_pa)
    _push(rows, "angled", when, -push_pa)


def drifted(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """The same when the drift is over."""
    _push(rows, "pitot", when, _DRIFT_PA)
    _push(rows, "angled", when, -_DRIFT_PA)


def bad_wire(rows: np.ndarray, when: When, rng: np.random.Generator) -> None:
    """Three reads in ten fail, on either bus."""
    for column, _ in COLUMN.values():
        lost = rng.random(len(when.elapsed_s)) < _LOST_SHARE
        rows[when.rows, column] = np.where(lost, NO_REPLY, rows[when.rows, column])


def flipped_bit(rows: np.ndarray, when: When, rng: np.random.Generator) -> None:
    """One read in fifty comes with its top bit the wrong way round (case A2)."""
    for _, column in COLUMN.values():
        hit = rng.random(len(when.elapsed_s)) < _FLIPPED_SHARE
        rows[when.rows, column] ^= (_TOP_BIT * hit).astype(rows.dtype)


def wild_words(rows: np.ndarray, when: When, rng: np.random.Generator) -> None:
    """Now and then 0 or the top code, one, two or five in a row (case A2)."""
    for _, column in COLUMN.values():
        part = rows[when.rows, column]
        for start in np.flatnonzero(rng.random(len(part)) < _WILD_SHARE).tolist():
            part[start:start + int(rng.choice(_WILD_RUNS))] = rng.choice((0, _TOP_CODE))


def accelerometer_dead(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """The accelerometer makes no new conversions."""
    rows[when.rows, _NZ_STATUS] = NO_REPLY


def accelerometer_stuck(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """The accelerometer repeats one word."""
    rows[when.rows, _NZ] = rows[when.rows.start, _NZ]


def flap_broken(rows: np.ndarray, when: When, _: np.random.Generator) -> None:
    """No contact of the flap switches closes."""
    rows[when.rows, _FLAP] = _FLAP_UNCLEAR


def flap_bounces(rows: np.ndarray, when: When, rng: np.random.Generator) -> None:
    """The flap switch wavers between its setting and the one beside it (case D4)."""
    part = rows[when.rows, _FLAP]
    beside = np.where(part > 0, part - 1, part + 1)
    at = 0
    while at < len(part):
        end = at + int(rng.integers(*_BOUNCE_TICKS))
        part[at:end] = beside[at:end]
        at = end + int(rng.integers(*_BOUNCE_TICKS))
