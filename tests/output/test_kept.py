"""What is kept of a long run says the same as the whole."""

import numpy as np
import pytest

from host_sim.output.changes import changes, seconds_in_states
from host_sim.output.kept import Kept, Thinned
from host_sim.output.sound import pwm_events, render, render_pieces
from host_sim.runtimes.session import OUT_COLUMNS, UNKNOWN

LIFT = OUT_COLUMNS.index("lift_pm")


def run_of(count: int, seed: int) -> np.ndarray:
    """Decisions drawn at random; states and sounds last for some ticks."""
    random = np.random.default_rng(seed)
    out = random.integers(0, 1500, (count, len(OUT_COLUMNS))).astype(np.int32)
    out[:, 0] = np.cumsum(random.integers(1, 30, count))
    out[random.random(count) < 0.2, LIFT] = UNKNOWN
    for name, most, share in (("state", 6, 0.02), ("voice_level", 9, 0.1), ("health", 3, 0.05)):
        drawn = random.integers(0, most, count)
        keep = np.maximum.accumulate(np.where(random.random(count) < share, np.arange(count), 0))
        out[:, OUT_COLUMNS.index(name)] = drawn[keep]
    out[:, OUT_COLUMNS.index("voice_hz")] = 600 + out[:, OUT_COLUMNS.index("voice_level")]
    return out


def fed(taker, out: np.ndarray, block: int):
    """The taker, after the run in blocks."""
    for start in range(0, len(out), block):
        taker.add(out[start:start + block])
    return taker


@pytest.mark.parametrize("block", [1, 7, 1000])
@pytest.mark.parametrize("seed", range(3))
def test_table_times_and_sound_of_what_is_kept_are_those_of_all(block: int, seed: int) -> None:
    out = run_of(2500, seed)
    kept = fed(Kept(), out, block)
    rows = kept.rows()
    assert kept.count == 2500 and len(rows) < 700
    assert changes(rows, 5) == changes(out, 5)
    assert seconds_in_states(rows) == seconds_in_states(out)
    assert pwm_events(rows) == pwm_events(out)
    assert rows[-1, 0] == out[-1, 0]


def test_one_tick_is_kept_once() -> None:
    out = run_of(1, 1)
    assert fed(Kept(), out, 1).rows().tolist() == out.tolist()


@pytest.mark.parametrize("count", [1, 100, 101, 399, 1600, 2377])
def test_thinned_keeps_the_most_lift_of_each_bucket(count: int) -> None:
    out = run_of(count, count)
    found = [fed(Thinned(100), out, block) for block in (1, 13, 250, 5000)]
    stride = found[0].stride
    assert stride in (1, 2, 4, 8, 16, 32) and count // stride <= 100
    assert stride == 1 or count // (stride // 2) > 100  # no coarser than it must be
    wanted = [max(bucket, key=lambda row: (row[LIFT], -row[0]))
              for bucket in (out[i:i + stride].tolist() for i in range(0, count, stride))]
    for one in found:
        assert one.stride == stride
        assert one.rows().tolist() == wanted


def test_sound_in_pieces_is_the_sound_in_one(monkeypatch: pytest.MonkeyPatch) -> None:
    events = pwm_events(run_of(300, 4))
    whole = render(events, 5.0)
    monkeypatch.setattr("host_sim.output.sound.PIECE", 97)
    pieces = list(render_pieces(events, 5.0))
    assert max(map(len, pieces)) == 97
    assert np.concatenate(pieces) == pytest.approx(whole, abs=1e-9)
    assert len(whole) == 5 * 22050
