"""`alula replay UNIT.LOG`: what you replay is what you heard; and `alula unpack`, both ways.

Whole simulated flights on a bench unit that logs. Cases E4, E6, G3, G9. Case H of exit codes: 0
equal, 1 different, 2 unreadable.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from alula import log_layout as layout
from alula.log_block import seal
from alula.states import PRESSING, STALLING
from host_sim.fly import sensor_rows
from host_sim.reading.unit_log import open_log
from host_sim.runtimes.session import IN_COLUMNS, OUT_COLUMNS
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.end_to_end.command import alula, files, read_trace, refused
from tests.log_flight import LoggedBench, flown

BLOCK = layout.BLOCK_BYTES


@pytest.fixture(scope="module")
def turn(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """A flight that presses and stalls, over the wrap of the counter, with stalls of the loop."""
    return flown(tmp_path_factory.mktemp("turn"), "tightened-turn", start_ms=(1 << 30) - 150000,
                 stalls=[[60000, 5], [90000, 50], [120000, 400], [160000, 120]])


@pytest.fixture(scope="module")
def capture(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """A flight in which the wing is learned and the curve taken into use."""
    return flown(tmp_path_factory.mktemp("capture"), "capture-flap20", calibrated=False)


def replay(log: Path, *words: object):
    return alula(log.parent, "replay", log, "--json", "--no-picture", *words)


@pytest.mark.parametrize("runtime", ["cpython", "micropython"])
def test_g9_a_flight_is_decided_again_as_it_was(turn, runtime):
    log, out = turn
    done = replay(log, "--runtime", runtime)
    assert done.code == 0, done.err
    (session,) = done.json()["sessions"]
    assert session["equal"] and session["compared_samples"] == session["samples"] > 20000
    assert session["compared_digests"] >= session["samples"] // 100
    heard = [change["state"] for change in session["changes"]]
    assert "pressing" in heard and "stalling" in heard
    assert {PRESSING, STALLING} <= set(out[:, OUT_COLUMNS.index("state")].tolist())


@pytest.mark.parametrize("runtime", ["cpython", "micropython"])
def test_a_capture_and_the_curve_it_made_are_decided_again(capture, runtime):
    log, _ = capture
    done = replay(log, "--runtime", runtime)
    assert done.code == 0, done.err
    kinds = [header.kind for header in open_log(log).headers]
    assert kinds.count(layout.CHANGE) == 1  # the curve, stored in flight


def test_g9_the_log_holds_the_very_words_and_decisions(turn):
    log, out = turn
    rows = _rows(log)
    state = OUT_COLUMNS.index("state")
    assert len(rows) > len(out)  # the unit stands for a while after the flight
    assert np.array_equal(rows[:len(out), 10], out[:, state])
    assert np.array_equal(rows[:len(out), 0], out[:, 0])
    assert IN_COLUMNS[2] == "pitot_word" and set(np.unique(rows[:, 1])) == {0}


def _rows(log: Path) -> np.ndarray:
    opened = open_log(log)
    return np.concatenate([item.ticks.rows for item in opened.sessions[0].items(opened.content)
                           if hasattr(item, "ticks")])


def test_e4_e6_stalls_of_the_loop_and_the_wrap_show_as_what_they_are(turn):
    rows = _rows(turn[0])
    steps = np.diff(rows[:, 0].astype(np.int64)) % (1 << 30)
    # a stall that ends between two deadlines lasts until the later of the two: 5 ms are made up
    assert {15, 60, 410, 130} <= set(steps.tolist()) and (np.diff(rows[:, 0]) < 0).sum() == 1
    assert rows[-1, 15] == 5 + 40 + 12  # deadlines missed, of 10 ms each, by 50, 400 and 120 ms


def test_trace_and_sound_are_those_of_the_flight(turn):
    log, out = turn
    done = replay(log, "--trace", "trace.csv", "--sound", "heard.wav")
    assert done.code == 0
    trace = read_trace(log.parent / "trace.csv")
    assert len(trace["state"]) == done.json()["sessions"][0]["samples"]
    assert trace["time_s"][0] == "0.000"
    tone_hz = trace["tone_hz"][:len(out)].astype(int)
    assert (tone_hz == out[:, OUT_COLUMNS.index("tone_hz")]).all()
    assert (log.parent / "heard.wav").stat().st_size > 1 << 20


def test_other_settings_are_compared_and_the_first_difference_is_named(turn, tmp_path):
    log, _ = turn
    (tmp_path / "late.json").write_text(json.dumps({"pressing_pm": 800}))
    done = replay(log, "--settings", tmp_path / "late.json", "--compare")
    assert done.code == 1
    (session,) = done.json()["sessions"]
    first = session["first_difference"]
    logged = [c for c in session["differences"] if "pressing" in c["logged"]]
    assert logged and logged[0]["now"].startswith("calm")
    assert "decided otherwise now; first difference" in done.err
    assert f"{first['begin_ms'] / 1000:.2f}" in done.err
    said = alula(tmp_path, "replay", log, "--no-picture", "--compare", "--settings", "late.json")
    assert said.code == 1 and "logged pressing (ok), now calm (ok)" in said.out


def test_another_calibration_is_compared_too(turn, tmp_path):
    log, _ = turn
    wing = json.loads((log.parent / "calibration.json").read_text())
    for curve in wing["curves"]:
        for point in curve["points"]:
            point[0] += 400
    (tmp_path / "wing.json").write_text(json.dumps(wing))
    done = replay(log, "--calibration", tmp_path / "wing.json")
    assert done.code == 1 and not done.json()["sessions"][0]["equal"]


def tampered(log: Path, target: Path, change) -> Path:
    """The log with the decision of one tick changed, all checksums good."""
    csv, back = target / "x.csv", target / "x.log"
    assert alula(target, "unpack", log, "--out", csv).code == 0
    lines = csv.read_text().splitlines()
    csv.write_text("\n".join(change(lines)) + "\n")
    assert alula(target, "unpack", "--back", csv, "--out", back).code == 0
    return back


def test_one_decision_that_differs_is_found_and_named(turn, tmp_path):
    def change(lines):
        i = 8000
        cells = lines[i].split(",")
        assert cells[12] == "quiet"
        cells[12] = "calm"
        lines[i] = ",".join(cells)
        change.time_ms = round(float(cells[1]) * 1000)
        return lines

    done = replay(tampered(turn[0], tmp_path, change))
    assert done.code == 1
    (session,) = done.json()["sessions"]
    first = session["first_difference"]
    assert (first["begin_ms"], first["end_ms"]) == (change.time_ms, change.time_ms)
    assert first["logged"].startswith("calm") and first["now"].startswith("quiet")
    assert len(session["differences"]) == 1 and session["different_digests"] == 0


def test_a_sound_that_differs_is_found_by_its_digest(turn, tmp_path):
    def change(lines):
        i = next(i for i, line in enumerate(lines) if i > 5000 and line.split(",")[-1])
        cells = lines[i].split(",")
        cells[-1] = str(int(cells[-1]) ^ 1)
        lines[i] = ",".join(cells)
        return lines

    done = replay(tampered(turn[0], tmp_path, change))
    assert done.code == 1
    (session,) = done.json()["sessions"]
    assert session["differences"] == [] and session["different_digests"] == 1
    assert "digest" in done.err


def test_g9_one_row_left_out_is_refused(turn, tmp_path):
    csv = tmp_path / "x.csv"
    assert alula(tmp_path, "unpack", turn[0], "--out", csv).code == 0
    lines = csv.read_text().splitlines()
    csv.write_text("\n".join(lines[:5000] + lines[5001:]) + "\n")
    refused(tmp_path, "unpack", "--back", csv, "--out", "y.log", says=("rows, but its #block",))


@pytest.mark.parametrize("name", ["turn", "capture"])
def test_unpack_and_back_gives_the_same_bytes(name, tmp_path, request):
    log, _ = request.getfixturevalue(name)
    back = tampered(log, tmp_path, lambda lines: lines)
    assert back.read_bytes() == log.read_bytes()


@pytest.mark.parametrize("runtime", ["cpython", "micropython"])
def test_g3_after_a_damaged_block_it_is_compared_again_once_settled(turn, tmp_path, runtime):
    data = bytearray(turn[0].read_bytes())
    data[5 * BLOCK + 99] ^= 1
    (tmp_path / "hurt.log").write_bytes(data)
    done = replay(tmp_path / "hurt.log", "--runtime", runtime)
    assert done.code == 0, done.err
    found = done.json()
    (session,) = found["sessions"]
    assert found["damage"] == [f"byte {5 * BLOCK} (block 5): 4096 bytes whose checksum is wrong; "
                               "not used"]
    assert len(session["gaps"]) == 1 and session["equal"]
    (from_ms,) = session["counts_from_ms"]
    gap_end_s = float(session["gaps"][0].split(" and ")[1].split()[0])
    assert 10 <= from_ms / 1000 - gap_end_s <= 12
    missed = session["samples"] - session["compared_samples"]
    assert 1000 <= missed <= 1200


def test_g3_a_difference_after_a_gap_is_still_found(turn, tmp_path):
    def change(lines):
        i = len(lines) - 3000
        cells = lines[i].split(",")
        cells[13] = "twins"
        lines[i] = ",".join(cells)
        return lines

    back = tampered(turn[0], tmp_path, change)
    data = bytearray(back.read_bytes())
    data[5 * BLOCK + 99] ^= 1
    back.write_bytes(data)
    done = replay(back)
    assert done.code == 1 and "twins" in done.err


def test_g3_without_its_head_a_session_cannot_be_replayed_but_unpacked(turn, tmp_path):
    (tmp_path / "body.log").write_bytes(turn[0].read_bytes()[BLOCK:])
    refused(tmp_path, "replay", "body.log", says=("head of this session is missing", "unpack"))
    done = alula(tmp_path, "unpack", "body.log", "--out", "body.csv", "--json")
    assert done.code == 0 and done.json()["rows"] == len(_rows(turn[0]))


def test_what_cannot_be_read_ends_with_2(turn, tmp_path):
    (tmp_path / "junk.log").write_bytes(b"ALUL" + bytes(9000))
    refused(tmp_path, "replay", "junk.log", says=("not one whole block",))
    refused(tmp_path, "unpack", "none.log", "--out", "x", says=("none.log", "cannot be read"))
    refused(tmp_path, "unpack", "junk.log", "--out", "x", says=("not one whole block",))
    refused(tmp_path, "replay", turn[0], "--plumbing", "opposed", says=("leave out --plumbing",))
    refused(tmp_path, "replay", turn[0], "--session", "9", says=("has no session 9; it has 1",))
    newer = bytearray(turn[0].read_bytes()[:BLOCK])
    newer[4] = 9
    seal(newer)
    (tmp_path / "newer.log").write_bytes(newer)
    refused(tmp_path, "replay", "newer.log", says=("format 9", "newer desk tools"))
    (tmp_path / "not.csv").write_text("time_s,pitot_pa,angled_pa\n0,1,2\n")
    refused(tmp_path, "unpack", "--back", "not.csv", "--out", "x", says=("not.csv:1", "unpack"))


def test_a_folder_or_a_log_as_csv_is_refused_with_the_way_on(turn, tmp_path):
    assert alula(tmp_path, "unpack", turn[0], "--out", "u.csv").code == 0
    for verb in ("replay", "review", "listen", "calibrate"):
        refused(tmp_path, verb, turn[0].parent, says=("is a folder", "00001-000.log"))
        refused(tmp_path, verb, "u.csv", says=("u.csv:1: ", "unpack --back"))


def test_two_sessions_in_one_file_are_replayed_each_by_itself(turn, tmp_path):
    folder = tmp_path / "unit"
    folder.mkdir()
    (folder / "00001-000.log").write_bytes(turn[0].read_bytes())
    for name in ("settings.a", "zero.a", "calibration.json"):
        (folder / name).write_bytes((turn[0].parent / name).read_bytes())
    rows = sensor_rows(fly(load_scenario("ordinary"), 1), 1)[:9000]
    unit = LoggedBench(folder)
    unit.fly(rows)
    unit.off()
    both = b"".join(path.read_bytes() for path in sorted(folder.glob("*.log")))
    (tmp_path / "both.log").write_bytes(both)
    done = replay(tmp_path / "both.log")
    assert done.code == 0, done.err
    assert [session["session"] for session in done.json()["sessions"]] == [1, 2]
    alone = replay(tmp_path / "both.log", "--session", "2").json()["sessions"]
    assert alone == done.json()["sessions"][1:]


@pytest.mark.parametrize("name", ["stall-straight", "slow-flight-gusts"])
def test_faults_and_gusts_are_decided_again(tmp_path, name):
    def spoil(rows):
        rng = np.random.default_rng(5)
        rows = rows.copy()
        rows[rng.random(len(rows)) < 0.05, 1] = 2
        rows[rng.random(len(rows)) < 0.05, 3] = 1
        rows[9000:9400, 1] = rows[12000:12700, 3] = 2
        rows[15000:15030, 2] = 16383
        return rows

    log, out = flown(tmp_path, name, spoil=spoil)
    done = replay(log)
    assert done.code == 0, done.err
    assert len(set(out[:, OUT_COLUMNS.index("health")].tolist())) > 4


def test_g9_a_unit_in_the_other_interpreter_leaves_the_same_log(tmp_path):
    for runtime in ("cpython", "micropython"):
        done = alula(tmp_path, "fly", "rejected-take-off", "--flash", runtime, "--runtime",
                     runtime)
        assert done.code == 0, done.err
    ours, theirs = (next((tmp_path / name).glob("*.log")).read_bytes()
                    for name in ("cpython", "micropython"))
    assert ours == theirs and len(ours) > 2 * BLOCK


def test_nothing_is_written_beside_what_was_asked_for(turn, tmp_path):
    (tmp_path / "UNIT.LOG").write_bytes(turn[0].read_bytes())
    before = files(tmp_path)
    assert alula(tmp_path, "replay", "UNIT.LOG").code == 0
    assert files(tmp_path) == before
