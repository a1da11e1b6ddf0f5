"""A long flight goes through a worker stretch by stretch: the same measures, and no more memory
however long it is."""

import tracemalloc

import numpy as np
import pytest

from host_sim.tuning.candidates import candidate
from host_sim.tuning.fleet import flights
from host_sim.tuning.fleet.flights import TuneFlight, pack
from host_sim.tuning.work import pieces
from host_sim.tuning.work.pieces import Piece, code_hash, work
from tests.tuning.made import CURVE, SETTINGS, slowing

CANDIDATES = tuple(candidate({"window_ms": window, "pressing_pm": pressing})
                   for window in (120, 300) for pressing in (640, 694))


def several(times: int, rate_hz: int = 50) -> TuneFlight:
    """A flight with that many slow-downs into the stall, 70 s each."""
    one = slowing()
    rows = np.tile(one.rows, (times, 1))
    rows[:, 0] = np.arange(len(rows)) * (1000 // rate_hz)
    stalls = tuple(one.stalls_ms[0] * 50 // rate_hz + 70_000 * 50 // rate_hz * i
                   for i in range(times))
    return TuneFlight("several", pack(rows), {**SETTINGS, "sample_rate_hz": rate_hz}, CURVE,
                      {"pitot_dpa": 0, "angled_dpa": 0}, stalls, "the test")


@pytest.mark.parametrize("firmware", [False, True])
@pytest.mark.parametrize("size", [3500, 2499, 700])
def test_measures_do_not_depend_on_the_stretches(monkeypatch, size, firmware):
    """Cut where a stall is, in an entry, within a warning, and many times in all of them. Not
    bit for bit: the reference is made of means, whose sums begin elsewhere. A rate that falls into
    another decision by that would show as a count."""
    block = CANDIDATES[:1] if firmware else CANDIDATES

    def measured() -> list:
        return work(Piece(several(2), block, code_hash(), ((900, 1000),), firmware))
    whole = measured()
    monkeypatch.setattr(flights, "STRETCH_ROWS", size)
    assert len(several(2).packed) == -(-7000 // size)
    found = measured()
    if firmware:
        assert [one[1] for one in found] == [one[1] for one in whole]
        whole, found = ([one[0] for one in many] for many in (whole, found))
    for one, other in zip(whole, found, strict=True):
        assert len(one["stalls"]) == 2
        for mine, theirs in zip(one.pop("stalls"), other.pop("stalls"), strict=True):
            assert mine == pytest.approx(theirs, rel=1e-9)
        assert one == pytest.approx(other, rel=1e-9)


def test_a_piece_needs_no_more_memory_for_four_hours_than_for_one():
    """tracemalloc counts every array; the piece itself, packed, is there before. A worker holds
    two stretches, each of some 200 bytes a tick: see `Prepared` and `Reference`."""
    most = []
    for hours in (1, 4):
        piece = Piece(several(hours * 3600 // 35, 100), CANDIDATES[:2], code_hash())
        assert len(piece.subject.packed) * flights.STRETCH_ROWS > pieces.KEPT_TICKS
        tracemalloc.start()
        (one, _) = work(piece)
        most.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert one["hours"] == pytest.approx(hours, rel=0.02)
        assert len(one["stalls"]) == len(piece.subject.stalls_ms)
    assert most[1] < 1.05 * most[0]
    assert most[1] < 550 * flights.STRETCH_ROWS
