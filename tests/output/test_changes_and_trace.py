"""What the desk says of a run: the trace and the changes of state."""

from pathlib import Path

import numpy as np
import pytest

from host_sim.output.changes import Change, as_json, changes, seconds_in_states, table
from host_sim.output.trace import COLUMNS, column, known, time_text, trace_text, write_trace
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.session import OUT_COLUMNS, OUT_WIDTH, UNKNOWN

use_firmware()

from alula.health import WORDS as HEALTH
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING


def rows(*ticks: dict[str, int]) -> np.ndarray:
    """Output rows with the columns named, the others 0."""
    out = np.zeros((len(ticks), OUT_WIDTH), np.int32)
    for i, tick in enumerate(ticks):
        for name, value in tick.items():
            out[i, OUT_COLUMNS.index(name)] = value
    return out


def lasting(*states: tuple[int, int]) -> np.ndarray:
    """Rows 10 ms apart: (state, ticks) in turn."""
    flat = [state for state, ticks in states for _ in range(ticks)]
    return rows(*({"now_ms": 10 * i, "state": state, "pitot_dpa": 4058, "lift_pm": 800}
                  for i, state in enumerate(flat)))


def test_trace_of_one_tick_word_by_word() -> None:
    out = rows({"now_ms": 1010, "pitot_dpa": 4000, "angled_dpa": -12, "ratio_bp": -30,
                "lift_pm": 0, "state": PRESSING, "pulse_millihz": 1500, "tone_hz": 600,
                "health": HEALTH.index("ok"), "voice_hz": 600, "voice_level": 8, "lamp": 1})
    assert trace_text(out) == (
        "time_s,pitot_dpa,angled_dpa,ratio_bp,lift_pm,state,pulse_millihz,tone_hz,health\n"
        "1.010,4000,-12,-30,0,pressing,1500,600,ok\n")


def test_unknown_numbers_are_empty_not_zero() -> None:
    out = rows({name: UNKNOWN for name in ("pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm")})
    assert trace_text(out).splitlines()[1] == "0.000,,,,,quiet,0,0,ok"
    assert np.isnan(known(out, "lift_pm")).all()
    change = changes(out)[0]
    assert (change.ratio_bp, change.lift_pm, change.ias_kt) == (None, None, None)
    assert table([change])[-1].split()[2:5] == ["-", "-", "-"]


@pytest.mark.parametrize(("time_ms", "text"), [
    (0, "0.000"), (5, "0.005"), (-5, "-0.005"), (-1005, "-1.005"),
    (1790000000123, "1790000000.123")])
def test_times_are_exact_to_the_millisecond(time_ms: int, text: str) -> None:
    assert time_text(time_ms) == text
    assert trace_text(rows({}), time_ms).splitlines()[1].startswith(text + ",")


def test_written_trace_is_its_text_with_plain_line_ends(tmp_path: Path) -> None:
    out = lasting((QUIET, 3), (CALM, 2))
    write_trace(tmp_path / "t.csv", out, 500)
    assert (tmp_path / "t.csv").read_bytes() == trace_text(out, 500).encode()
    assert b"\r" not in (tmp_path / "t.csv").read_bytes()
    assert len(COLUMNS) == 9


def test_first_state_and_every_change() -> None:
    out = lasting((QUIET, 5), (CALM, 3), (PRESSING, 1), (STALLING, 4), (QUIET, 2))
    found = changes(out, 2000)
    assert [(c.time_s, c.state) for c in found] == [
        (2.0, "quiet"), (2.05, "calm"), (2.08, "pressing"), (2.09, "stalling"), (2.13, "quiet")]
    assert as_json(found)[1] == {"time_s": 2.05, "state": "calm", "health": "ok", "ratio_bp": 0,
                                 "lift_pm": 800, "ias_kt": 50.0}
    # 50 kt CAS is 405.83 Pa of impact pressure: computed from the compressible formula


def test_no_rows_no_changes() -> None:
    assert changes(rows()) == []


def test_seconds_add_up_to_the_run() -> None:
    out = lasting((QUIET, 50), (PRESSING, 25), (FAULT, 26))
    seconds = seconds_in_states(out)
    assert seconds == {"quiet": 0.5, "pressing": 0.25, "fault": 0.25}  # the last tick has no end
    assert sum(seconds.values()) == pytest.approx((len(out) - 1) / 100)


def test_a_gap_counts_for_the_state_before_it() -> None:
    out = lasting((QUIET, 2), (CALM, 2))
    out[2:, OUT_COLUMNS.index("now_ms")] += 1000
    assert seconds_in_states(out) == {"quiet": 1.02, "calm": 0.01}
    assert column(out, "now_ms").tolist() == [0, 10, 1020, 1030]


def test_pressure_below_zero_is_no_speed() -> None:
    assert changes(rows({"pitot_dpa": -5}))[0].ias_kt is None
    assert changes(rows({"pitot_dpa": 0}))[0].ias_kt == 0.0


def test_long_tables_are_cut_and_say_so() -> None:
    change = Change(1.0, "calm", "ok", 100, 550, 60.0)
    lines = table([change] * 45, most=40)
    assert len(lines) == 1 + 40 + 1
    assert "5 more" in lines[-1] and "--json" in lines[-1]


def test_a_remark_is_shown_where_all_is_not_well() -> None:
    blind = Change(1.0, "fault", "pitot-no-reply", None, None, None)
    assert table([blind])[-1].endswith("pitot-no-reply")
    assert not table([Change(1.0, "calm", "ok", 1, 550, 60.0)])[-1].endswith("ok")
