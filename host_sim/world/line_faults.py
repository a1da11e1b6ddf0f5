"""Faults of hoses and holes: they act on the pressures in the lines, before the sensors take
differences, so that each plumbing feels them as it must.

A change works in place on absolute pressures at the sensor's end of each line (`flight.LINES`).
"Cases" are field reports of unmanned and light aeroplanes; sizes without a source are marked.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

LinePressures = dict[str, np.ndarray]
_CABIN_SHARE = 0.05  # a cabin is a little below static, by so much q (common practice, no source)
_DRAIN_TAU_S = 0.5  # how fast trapped pressure leaves by a drain hole (no source)
_LEAK_SHARE, _LEAK_OPENS_S = 0.3, 5.0  # a joint that works loose (no source)
_CROSS_SHARE, _CROSS_OPENS_S = 0.35, 10.0  # half would make both lines equal (no source)
_WATER_PA = (-300.0, -100.0, 100.0, 300.0)  # 10 mm of water is 98 Pa
_WATER_LONG_S, _WATER_APART_S = (0.3, 2.0), (0.5, 4.0)


@dataclass(frozen=True)
class When:
    """rows: the ticks of the fault. elapsed_s: time since it began, one value a tick of it."""

    rows: slice
    elapsed_s: np.ndarray


Change = Callable[[LinePressures, When, np.random.Generator], None]


def cabin_pa(lines: LinePressures, rows: slice) -> np.ndarray:
    """Pressure in the cabin, where a hose that is off ends."""
    static = lines["static"][rows]
    return static - _CABIN_SHARE * (lines["pitot"][rows] - static)


def blocked(name: str) -> Change:
    """The line holds the pressure it had."""
    def change(lines: LinePressures, when: When, _: np.random.Generator) -> None:
        lines[name][when.rows] = lines[name][when.rows.start]
    return change


def drained(lines: LinePressures, when: When, _: np.random.Generator) -> None:
    """The pitot's mouth is plugged, its drain hole is open: impact leaves, static stays."""
    at = when.rows.start
    impact = lines["pitot"][at] - lines["static"][at]
    left = impact * np.exp(-when.elapsed_s / _DRAIN_TAU_S)
    lines["pitot"][when.rows] = lines["static"][when.rows] + left


def iced(names: tuple[str, ...], seconds: float) -> Change:
    """The share of impact pressure that reaches a line falls from 1 to 0 (case B2)."""
    def change(lines: LinePressures, when: When, _: np.random.Generator) -> None:
        share = np.clip(1.0 - when.elapsed_s / seconds, 0.0, 1.0)
        static = lines["static"][when.rows]
        for name in names:
            lines[name][when.rows] = static + share * (lines[name][when.rows] - static)
    return change


def water(name: str) -> Change:
    """Plugs of water pass: steps, at random, up and down (case B4)."""
    def change(lines: LinePressures, when: When, rng: np.random.Generator) -> None:
        begin_s = 0.0
        while begin_s < when.elapsed_s[-1]:
            end_s = begin_s + rng.uniform(*_WATER_LONG_S)
            wet = (when.elapsed_s >= begin_s) & (when.elapsed_s < end_s)
            lines[name][when.rows] += rng.choice(_WATER_PA) * wet
            begin_s = end_s + rng.uniform(*_WATER_APART_S)
    return change


def leaking(name: str) -> Change:
    """A joint works loose: part of the pressure in the line becomes the cabin's (case B5)."""
    def change(lines: LinePressures, when: When, _: np.random.Generator) -> None:
        share = _LEAK_SHARE * np.clip(when.elapsed_s / _LEAK_OPENS_S, 0.0, 1.0)
        gap = cabin_pa(lines, when.rows) - lines[name][when.rows]
        lines[name][when.rows] += share * gap
    return change


def converging(lines: LinePressures, when: When, _: np.random.Generator) -> None:
    """Air passes between the pitot and the angled line inside the probe (case B5)."""
    share = _CROSS_SHARE * np.clip(when.elapsed_s / _CROSS_OPENS_S, 0.0, 1.0)
    flow = share * (lines["pitot"][when.rows] - lines["port"][when.rows])
    lines["pitot"][when.rows] -= flow
    lines["port"][when.rows] += flow


def off(name: str) -> Change:
    """The hose is off: from one tick to the next the sensor feels cabin air."""
    def change(lines: LinePressures, when: When, _: np.random.Generator) -> None:
        lines[name][when.rows] = cabin_pa(lines, when.rows)
    return change


def mixed_up(pitot: str, port: str, static: str) -> Change:
    """The three hoses sit on each other's connectors: which line feeds which (case B6)."""
    def change(lines: LinePressures, when: When, _: np.random.Generator) -> None:
        true = {name: lines[name][when.rows].copy() for name in (pitot, port, static)}
        for connector, source in (("pitot", pitot), ("port", port), ("static", static)):
            lines[connector][when.rows] = true[source]
    return change
