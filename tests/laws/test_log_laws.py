"""Laws of the flight log: whatever comes in comes out; to text and back is the same bytes.

Cases G3 (any damage), G9 (nothing is made up).
"""

import random
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alula.log_layout import BLOCK_BYTES
from alula.sample import Sample
from host_sim.reading.unit_log import Timed, UnitLog, read_log
from host_sim.reading.unit_log_csv import csv_lines
from host_sim.reading.unit_log_pack import packed
from tests.both.log_rig import Logged

WORD = st.one_of(st.integers(0, 16383), st.integers(-1_000_000, 1_000_000))
STATUS = st.integers(0, 4)
TICK = st.tuples(
    st.one_of(st.just(10), st.integers(-500, 5000), st.integers(-(1 << 29), 1 << 29)), STATUS,
    WORD, STATUS, WORD, STATUS, st.integers(-32768, 32767), st.integers(-2, 3),
    st.integers(0, 1), st.one_of(st.just(-9999), st.integers(-600, 1250)),
    st.integers(0, 70000))


def logged(ticks: list[tuple], start_ms: int) -> Logged:
    """A unit that felt these ticks."""
    unit, sample, now_ms = Logged(blocks=2), Sample(), start_ms
    for (dt_ms, sample.pitot_status, sample.pitot_word, sample.angled_status, sample.angled_word,
         sample.nz_status, sample.nz_mg, sample.flap, sample.button, sample.temperature_dc,
         missed) in ticks:
        now_ms = (now_ms + dt_ms) % (1 << 30)
        unit.tick(now_ms, sample, missed)
    return unit


def rows(log: UnitLog) -> list[list[int]]:
    found = [item.ticks.rows for session in log.sessions for item in session.items(log.content)
             if isinstance(item, Timed)]
    return np.concatenate(found).tolist() if found else []


@given(st.lists(TICK, min_size=1, max_size=60), st.integers(0, (1 << 30) - 1))
def test_whatever_goes_in_comes_out(ticks, start_ms):
    unit = logged(ticks, start_ms)
    log = read_log(Path("x"), unit.end())
    assert rows(log) == [list(row) for row in unit.seen]
    assert not log.notes and not log.sessions[0].notes


@given(st.lists(TICK, min_size=1, max_size=40), st.integers(0, (1 << 30) - 1))
def test_to_text_and_back_is_the_same_bytes(ticks, start_ms):
    data = logged(ticks, start_ms).end()
    assert b"".join(packed(csv_lines(read_log(Path("x"), data)), "x.csv")) == data


def long_log() -> tuple[bytes, list[tuple]]:
    rng = random.Random(7)
    ticks = [(10, 0, rng.randrange(16384), 0, rng.randrange(16384), 0, rng.randrange(-3000, 3000),
              0, 0, 200, 0) for _ in range(1500)]
    unit = logged(ticks, 0)
    return unit.end(), unit.seen


LONG, SEEN = long_log()


@settings(max_examples=60)
@given(st.lists(st.tuples(st.sampled_from(("flip", "cut", "insert", "drop", "double")),
                          st.integers(0, len(LONG) - 1), st.integers(1, 9000)), max_size=4))
def test_g3_no_damage_makes_a_row_up_or_raises(damage):
    data = bytearray(LONG)
    for kind, at, size in damage:
        at = min(at, max(len(data) - 1, 0))
        if kind == "flip" and data:
            data[at] ^= size % 255 + 1
        elif kind == "cut":
            del data[at:]
        elif kind == "insert":
            data[at:at] = bytes(size)
        elif kind == "drop":
            del data[at:at + size]
        elif kind == "double":
            data[at:at] = data[at:at + size]
    if not any(LONG[i:i + BLOCK_BYTES] in data for i in range(0, len(LONG), BLOCK_BYTES)):
        return  # not one whole block: refused, tested elsewhere
    log = read_log(Path("x"), bytes(data))
    seen = {tuple(row) for row in SEEN}
    found = [tuple(row) for row in rows(log)]
    assert set(found) <= seen and len(found) == len(set(found))
    times = [item.time_ms for item in log.sessions[0].items(log.content)
             if isinstance(item, Timed)]
    assert (np.diff(np.concatenate(times)) >= 0).all()
    whole = sum(LONG[i:i + BLOCK_BYTES] in data for i in range(0, len(LONG), BLOCK_BYTES))
    assert len(log.sessions[0].order) == whole
    if bytes(data) != LONG and len(data) % BLOCK_BYTES:
        assert log.notes
