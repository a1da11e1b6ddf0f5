"""`alula calibrate`, from recorded flights to a calibration in use, as a user runs it."""

import json
from pathlib import Path

import matplotlib
import numpy as np
import pytest

from tests.end_to_end.command import alula, files, refused, write_flight
from tests.external.truth import PHASES, PLUMBINGS, Probe, load, pressures

matplotlib.use("Agg")

from matplotlib import image

RUN_KEYS = {"stall_time_s", "entry_rate_kt_s", "stall_ratio_bp", "accepted", "refusal"}


def write_with_flap(path: Path, *names: str) -> None:
    """Truth flights one after the other in one file, 30 s apart, with their flap settings."""
    lines, start = ["time_s,pitot_pa,angled_pa,nz_g,flap"], 0.0
    for name in names:
        flight = load(name)
        time_s = flight["time_s"] - flight["time_s"][0] + start
        columns = (time_s, *pressures(flight, "port-static", Probe()), flight["nz_g"],
                   flight["flap"])
        lines += [f"{t:.3f},{p:.2f},{a:.2f},{n:.3f},{f:.0f}"
                  for t, p, a, n, f in zip(*columns, strict=True)]
        start = float(time_s[-1]) + 30.0
    path.write_text("\n".join(lines) + "\n")


@pytest.fixture(scope="module")
def calibrated(tmp_path_factory: pytest.TempPathFactory):
    """Three stalls, calibrated with every output; (folder, what the command said)."""
    folder = tmp_path_factory.mktemp("calibrate")
    write_flight(folder / "flight.csv", "tp_capture3_prompt")
    done = alula(folder, "calibrate", "flight.csv", "--plumbing", "port-static", "--out",
                 "cal.json", "--picture", "runs.png", "--json")
    assert done.code == 0 and done.err == "", done
    return folder, done.json()


def test_json_tells_every_run(calibrated):
    _, said = calibrated
    assert set(said) >= {"runs", "calibration", "reason"} and said["reason"] is None
    assert len(said["runs"]) == 3
    first_s = load("tp_capture3_prompt")["time_s"][0]
    for run, true_s in zip(said["runs"], PHASES["tp_capture3_prompt"]["stall_times_s"],
                           strict=True):
        assert set(run) >= RUN_KEYS
        assert run["accepted"] is True and run["refusal"] is None
        assert abs(run["stall_time_s"] - (true_s - first_s)) <= 1.0
        assert 0.9 <= run["entry_rate_kt_s"] <= 1.3  # flown at 1 kt/s
        # the probe formula at 16.0 deg; -1.0 to +0.7 deg asked
        low, high = (10000 * float(Probe().ratio("port-static", 16.0 + e)) for e in (-1.0, 0.7))
        assert low <= run["stall_ratio_bp"] <= high


def test_calibration_is_the_lowest_of_the_runs_and_rises(calibrated):
    _, said = calibrated
    calibration = said["calibration"]
    assert calibration["flap"] == 0 and calibration["plumbing"] == "port-static"
    ratios, lifts = np.array(calibration["points"]).T
    assert 3 <= len(ratios) <= 8 and lifts[-1] == 1000
    assert (np.diff(ratios) > 0).all() and (np.diff(lifts) > 0).all()
    assert ratios[-1] == min(run["stall_ratio_bp"] for run in said["runs"])


def test_the_file_is_what_was_said_and_replay_takes_it(calibrated):
    folder, said = calibrated
    assert json.loads((folder / "cal.json").read_text()) == said["calibration"]
    write_flight(folder / "turn.csv", "tp_turn45")
    done = alula(folder, "replay", "turn.csv", "--calibration", "cal.json", "--no-picture",
                 "--json")
    assert done.code == 0, done
    stall_s = PHASES["tp_turn45"]["stall_times_s"][0] - load("tp_turn45")["time_s"][0]
    stalling = [c["time_s"] for c in done.json()["changes"] if c["state"] == "stalling"]
    assert stalling and stalling[0] < stall_s


def test_picture_is_a_picture_with_something_on_it(calibrated):
    path = calibrated[0] / "runs.png"
    assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # PNG signature, RFC 2083
    picture = image.imread(path)[..., :3]
    assert picture.shape[0] >= 500 and picture.shape[1] >= 800
    assert picture.std() > 0.05
    # three runs in three colours: not only black on white
    assert (picture.max(axis=2) - picture.min(axis=2) > 0.2).sum() > 500


def test_twice_the_same_bytes(calibrated, tmp_path: Path):
    folder, said = calibrated
    write_flight(tmp_path / "flight.csv", "tp_capture3_prompt")
    done = alula(tmp_path, "calibrate", "flight.csv", "--plumbing", "port-static", "--out",
                 "cal.json", "--no-picture", "--json")
    assert done.json() == said
    assert (tmp_path / "cal.json").read_bytes() == (folder / "cal.json").read_bytes()
    assert set(files(tmp_path)) == {"flight.csv", "cal.json"}


@pytest.mark.parametrize("plumbing", PLUMBINGS[1:])
def test_other_plumbings(tmp_path: Path, plumbing: str):
    write_flight(tmp_path / "f.csv", "tp_capture3_prompt", plumbing)
    said = alula(tmp_path, "calibrate", "f.csv", "--plumbing", plumbing, "--no-picture",
                 "--json").json()
    assert said["calibration"]["plumbing"] == plumbing
    truth = 10000 * float(Probe().ratio(plumbing, 16.0))
    step = 10000 * float(Probe().ratio(plumbing, 16.7)) - truth
    assert said["calibration"]["points"][-1][0] <= truth + step


def test_one_stall_a_file_and_three_files_make_a_calibration(tmp_path: Path):
    names = ("tp_stall_1g", "tp_stall_1g_heavy_high", "tp_capture3")
    for name in names:
        write_flight(tmp_path / f"{name}.csv", name)
    done = alula(tmp_path, "calibrate", *[f"{name}.csv" for name in names], "--plumbing",
                 "port-static", "--no-picture", "--json")
    said = done.json()
    assert [run["file"] for run in said["runs"]] == [
        "tp_stall_1g.csv", "tp_stall_1g_heavy_high.csv", *["tp_capture3.csv"] * 3]
    assert said["calibration"] is not None


def test_a_flap_column_makes_a_curve_each(tmp_path: Path):
    write_with_flap(tmp_path / "f.csv", "tp_capture3_prompt", "tp_capture3_flap20")
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--out", "cal.json",
                 "--no-picture", "--json")
    assert done.code == 0, done
    said = done.json()
    assert [run["flap"] for run in said["runs"]] == [0, 0, 0, 20, 20, 20]
    curves = {curve["flap"]: curve["points"] for curve in said["calibration"]["curves"]}
    assert set(curves) == {0, 20}
    # 2 deg between the true stalls, 0.037 in ratio a degree there (probe formula): 740
    truth = [10000 * float(Probe().ratio("port-static", alpha)) for alpha in (14.0, 16.0)]
    assert curves[0][-1][0] - curves[20][-1][0] == pytest.approx(truth[1] - truth[0], abs=400)
    done = alula(tmp_path, "replay", "f.csv", "--calibration", "cal.json", "--no-picture")
    assert done.code == 0, done


def test_no_calibration_without_out_is_told(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_ordinary")
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--no-picture",
                 "--json")
    assert done.code == 0, done
    said = done.json()
    assert said["runs"] == [] and said["calibration"] is None and said["reason"]


def test_out_without_a_result_is_1_and_writes_nothing(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_stall_1g")
    before = files(tmp_path)
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--no-picture",
                 "--out", "cal.json")
    assert done.code == 1
    line, = done.err.splitlines()
    assert line.startswith("alula: ") and "cal.json" in line and "1 of 3" in line
    assert files(tmp_path) == before


def test_no_result_leaves_an_old_calibration_alone(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_fast_entry")
    (tmp_path / "cal.json").write_text("old")
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--no-picture",
                 "--out", "cal.json")
    assert done.code == 1 and (tmp_path / "cal.json").read_text() == "old"


def test_a_refusal_is_told_with_number_and_remedy(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_fast_entry")
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--no-picture")
    assert done.code == 0, done
    assert "too-fast" in done.out and "kt/s" in done.out and "1 kt each second" in done.out
    assert "never replaces" in done.out  # the caution stays beside the result


def test_summary_names_what_was_written(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_capture3_prompt")
    done = alula(tmp_path, "calibrate", "f.csv", "--plumbing", "port-static", "--out",
                 "o/cal.json")
    assert done.code == 0, done
    assert set(files(tmp_path)) == {"f.csv", "o/cal.json", "o/f-runs.png"}
    assert "o/cal.json" in done.out and "o/f-runs.png" in done.out
    assert "Prove a calibration in flight" in done.out and "never replaces" in done.out.replace(
        "\n", " ").replace("and never", "never").replace("supplements, never", "never")


def test_bad_input_is_2_and_one_line(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_stall_1g", rows=50)
    refused(tmp_path, "calibrate", "f.csv", says=("plumbing is not known",))
    refused(tmp_path, "calibrate", "f.csv", "--plumbing", "swept", says=("swept", "port-static"))
    refused(tmp_path, "calibrate", "none.csv", "--plumbing", "opposed", says=("none.csv",))
    refused(tmp_path, "calibrate", says=("FILE",))
    (tmp_path / "bad.csv").write_text("time_s,pitot_pa,angled_pa\n0,1,2\n0.1,x,2\n0.2,1,2\n")
    refused(tmp_path, "calibrate", "f.csv", "bad.csv", "--plumbing", "opposed", "--out",
            "cal.json", says=("bad.csv:3", "pitot_pa"))
    (tmp_path / "s.json").write_text('{"capture_runs": 9}')
    refused(tmp_path, "calibrate", "f.csv", "--plumbing", "opposed", "--settings", "s.json",
            says=("s.json", "capture_runs", "2 to 5"))
    (tmp_path / "flap.csv").write_text("time_s,pitot_pa,angled_pa,flap\n0,1,2,0.5\n")
    refused(tmp_path, "calibrate", "flap.csv", "--plumbing", "opposed", says=("flap.csv:2",))


def test_settings_change_what_is_asked(tmp_path: Path):
    write_flight(tmp_path / "f.csv", "tp_capture3")
    (tmp_path / "s.json").write_text('{"capture_fast_ckts": 115, "plumbing": "port-static"}')
    said = alula(tmp_path, "calibrate", "f.csv", "--settings", "s.json", "--no-picture",
                 "--json").json()
    assert said["calibration"] is None
    assert {run["refusal"] for run in said["runs"]} == {"too-fast"}  # flown at 1.2 to 1.3 kt/s
