"""Packed columns, unpacked here by the description in review_pack.py, and in another way."""

import base64
import struct
import zlib

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from host_sim.output.review_pack import NOTHING, pack, whole


def unpacked(text: str) -> list[int]:
    planes = zlib.decompress(base64.b64decode(text))
    n = len(planes) // 4
    total, values = 0, []
    for i in range(n):
        (code,) = struct.unpack("<I", bytes(planes[k * n + i] for k in range(4)))
        total += -(code + 1) // 2 if code % 2 else code // 2
        values.append((total + 2 ** 31) % 2 ** 32 - 2 ** 31)
    return values


@given(st.lists(st.integers(-2 ** 31, 2 ** 31 - 1)))
def test_nothing_is_lost(values: list[int]) -> None:
    assert unpacked(pack(np.array(values, np.int64))) == values


def test_unknown_numbers_are_nothing() -> None:
    assert whole(np.array([0.5, np.nan, -1.234, np.inf]), 100).tolist() == [
        50, NOTHING, -123, NOTHING]


def test_quiet_flight_packs_small() -> None:
    # lift in per mille that moves by a step now and then, as in cruise: under half a byte a row
    rng = np.random.default_rng(1)
    values = 400 + np.cumsum(rng.integers(-1, 2, 100_000) * (rng.random(100_000) < 0.1))
    assert len(pack(values)) < 50_000
