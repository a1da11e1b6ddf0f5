"""What the laws draw from: settings files, curves, and streams of raw words."""

from hypothesis import strategies as st

from alula.sample import FRESH, NO_REPLY, NOT_FITTED, SENSOR_FAULT, STALE
from alula.settings import _RISING as RISING
from alula.settings import TABLE, load
from alula.transfer import COMPENSATED
from tests.both.core_rig import record

_LEAST_SPAN = next(step for low, _, step in RISING if low == "pitot_low_dpa")
STATUSES = (FRESH, STALE, NO_REPLY, SENSOR_FAULT, NOT_FITTED)


def _legal(wanted: dict) -> dict:
    """The record with as much of `wanted` as the loader takes."""
    wanted = dict(wanted)
    for side in ("pitot", "angled"):
        if wanted.get(side + "_output") in COMPENSATED:
            wanted[side + "_address"] = 118
            low, high = (wanted.get(side + end, most) for end, most in (("_low_dpa", -68948),
                                                                        ("_high_dpa", 68948)))
            if not -68948 <= low <= high - _LEAST_SPAN <= 68948 - _LEAST_SPAN:
                low, high = -68948, 68948
            wanted[side + "_low_dpa"], wanted[side + "_high_dpa"] = low, high
    for _ in range(4 * len(TABLE)):
        settings, found = load(record(**wanted))
        if not found and not settings.missing:
            return record(**wanted)
        for field, _ in found:
            low = [low for low, high, _ in RISING if high == field and field not in wanted]
            if field == "accelerometer_address" and field not in wanted:
                low = ["pitot_address"]
            for name in low or [field]:
                wanted.pop(name, None)
    raise AssertionError(f"no way to make {wanted} legal")


def _value(row, corners: bool):
    name, default, least, most, unit, _ = row
    if name == "sample_rate_hz":
        return st.sampled_from([50, 100, 125, 200])
    if isinstance(unit, tuple):
        return st.sampled_from(unit)
    if corners:
        return st.sampled_from([least, most] + ([] if default is None else [default]))
    return st.integers(least, most)


def settings_records(corners: bool = False, **fixed) -> st.SearchStrategy[dict]:
    """Records the loader takes; with `corners` most values are at an end of their range."""
    rows = {row[0]: _value(row, corners) for row in TABLE if row[0] not in fixed}
    optional = st.fixed_dictionaries({}, optional=rows)
    every = st.fixed_dictionaries(rows)
    return st.one_of(optional, every).map(lambda found: _legal({**found, **fixed}))


@st.composite
def curves(draw) -> tuple:
    """Points of one curve, within the limits of a calibration."""
    count = draw(st.integers(2, 8))
    ratios = draw(st.lists(st.integers(-30000, 30000), min_size=count, max_size=count,
                           unique=True))
    lifts = draw(st.lists(st.integers(0, 1500), min_size=count, max_size=count, unique=True))
    lifts, ratios = sorted(lifts), sorted(ratios)
    if lifts[-1] < 1000:
        lifts[-1] = draw(st.integers(1000, 1500))
    return tuple(zip(ratios, lifts, strict=True))


def flap_curves() -> st.SearchStrategy[tuple]:
    """(flap, points) of a whole calibration."""
    return st.lists(st.tuples(st.integers(0, 99), curves()), min_size=1, max_size=4,
                    unique_by=lambda curve: curve[0]).map(tuple)


def words() -> st.SearchStrategy[int]:
    """Raw words of a 14-bit sensor, and pressures of the output type `direct`, all limits too."""
    limits = [0, 1, 818, 819, 1638, 8191, 8192, 14746, 15565, 16382, 16383, 99999, -99999,
              100000, -100000]
    return st.one_of(st.sampled_from(limits), st.integers(0, 16383), st.integers(-100000, 100000),
                     st.integers(500, 20000))


def spans(most_ticks: int = 40) -> st.SearchStrategy[tuple]:
    """(ticks, dt_ms, pitot status, word, angled status, word, word step a tick, flap)."""
    steps_ms = st.sampled_from([10, 10, 10, 10, 5, 1, 20, 3, 14, 0, -7, -40000, 80, 99, 101, 300,
                                1001, 100000, (1 << 29) - 1, 1 << 29])
    status = st.sampled_from((FRESH,) * 8 + STATUSES)
    return st.tuples(st.integers(1, most_ticks), steps_ms, status, words(), status, words(),
                     st.integers(-300, 300), st.sampled_from([-2, -1, 0, 1, 20, 99]))
