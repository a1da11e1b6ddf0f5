"""`alula replay`, from a file to every output, as a user runs it."""

import wave
from pathlib import Path

import matplotlib
import numpy as np
import pytest

from tests.end_to_end.command import alula, files, read_trace, write_calibration, write_flight
from tests.external.truth import PHASES, PLUMBINGS, load

matplotlib.use("Agg")

from matplotlib import image

COLUMNS = ["time_s", "pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "state", "pulse_millihz",
           "tone_hz", "health"]


@pytest.fixture(scope="module")
def replayed(tmp_path_factory: pytest.TempPathFactory):
    """A 1 g stall, replayed with every output; (folder, what the command said)."""
    folder = tmp_path_factory.mktemp("replay")
    write_flight(folder / "flight.csv", "tp_stall_1g", first_s=120.5)
    write_calibration(folder / "cal.json")
    done = alula(folder, "replay", "flight.csv", "--calibration", "cal.json", "--json", "--trace",
                 "trace.csv", "--picture", "picture.png", "--sound", "sound.wav")
    assert done.code == 0 and done.err == "", done
    return folder, done.json()


def test_trace_has_the_promised_columns_and_a_row_a_tick(replayed) -> None:
    folder, _ = replayed
    assert (folder / "trace.csv").read_text().splitlines()[0].split(",") == COLUMNS
    trace, flight = read_trace(folder / "trace.csv"), load("tp_stall_1g")
    assert len(trace["time_s"]) == len(flight["time_s"])
    expected = flight["time_s"] - flight["time_s"][0] + 120.5
    assert trace["time_s"].astype(float) == pytest.approx(expected, abs=5e-4)
    assert set(trace["state"]) == {"quiet", "calm", "pressing", "stalling"}


def test_numbers_not_known_are_empty_and_known_ones_whole(replayed) -> None:
    trace = read_trace(replayed[0] / "trace.csv")
    seeding = trace["lift_pm"] == ""
    assert seeding[:5].all() and not seeding[40:].any()  # one window of 200 ms, no more
    for name in ("pitot_dpa", "angled_dpa", "ratio_bp", "lift_pm", "pulse_millihz", "tone_hz"):
        values = trace[name][trace[name] != ""]
        assert (values.astype(int).astype(str) == values).all()


def test_trace_pressures_are_those_of_the_file(replayed) -> None:
    # Steady flight of the first seconds: what goes in in Pa stands in the trace in 0.1 Pa.
    trace, flight = read_trace(replayed[0] / "trace.csv"), load("tp_stall_1g")
    # Impact pressure exceeds q by M^2/4, 0.2 to 0.6 % here (series of the compressible formula).
    ratio = trace["pitot_dpa"][60:200].astype(float) / 10 / flight["qbar_pa"][60:200]
    assert (ratio > 1.001).all() and (ratio < 1.007).all()


def test_json_is_consistent_with_the_trace(replayed) -> None:
    folder, said = replayed
    assert set(said) == {"samples", "duration_s", "seconds", "changes", "reading"}
    trace = read_trace(folder / "trace.csv")
    assert said["samples"] == len(trace["time_s"])
    time_s = trace["time_s"].astype(float)
    assert said["duration_s"] == pytest.approx(time_s[-1] - time_s[0], abs=5e-4)
    at = np.flatnonzero(np.r_[True, trace["state"][1:] != trace["state"][:-1]])
    assert [change["time_s"] for change in said["changes"]] == time_s[at].tolist()
    for change, i in zip(said["changes"], at.tolist(), strict=True):
        assert set(change) == {"time_s", "state", "health", "ratio_bp", "lift_pm", "ias_kt",
                               "session"}
        assert (change["state"], change["health"]) == (trace["state"][i], trace["health"][i])
        for name in ("ratio_bp", "lift_pm"):
            assert ("" if change[name] is None else str(change[name])) == trace[name][i]
    for word in said["seconds"]:
        ticks = np.r_[np.diff(time_s), 0.0][trace["state"] == word].sum()
        assert said["seconds"][word] == pytest.approx(ticks, abs=1e-3)


def test_speeds_in_the_json_are_the_true_ones(replayed) -> None:
    _, said = replayed
    flight = load("tp_stall_1g")
    for change in said["changes"]:
        if change["ias_kt"] is not None and change["time_s"] < 150:
            true_kt = np.interp(change["time_s"] - 120.5 + flight["time_s"][0], flight["time_s"],
                                flight["kcas"])
            # shown to 0.1 kt, and 0.1 s of smoothing at 1 kt/s
            assert change["ias_kt"] == pytest.approx(true_kt, abs=0.05 + 0.1)


def test_the_stall_is_announced_before_it_comes(replayed) -> None:
    _, said = replayed
    stall_s = PHASES["tp_stall_1g"]["stall_times_s"][0] - load("tp_stall_1g")["time_s"][0] + 120.5
    first = {state: next(c["time_s"] for c in said["changes"] if c["state"] == state)
             for state in ("pressing", "stalling")}
    assert stall_s - first["pressing"] >= 5.0  # own promise
    assert stall_s - first["stalling"] >= 1.4


def test_picture_is_a_picture_with_something_on_it(replayed) -> None:
    path = replayed[0] / "picture.png"
    assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # PNG signature, RFC 2083
    picture = image.imread(path)
    assert picture.shape[0] >= 600 and picture.shape[1] >= 800
    grey = picture[..., :3].mean(axis=2)
    assert grey.std() > 0.05  # not blank
    quarters = np.array_split(grey, 4, axis=0)
    assert all(quarter.std() > 0.03 for quarter in quarters)  # each of the four panels is drawn


def test_sound_is_a_wav_as_long_as_the_flight(replayed) -> None:
    folder, said = replayed
    with wave.open(str(folder / "sound.wav"), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        seconds = file.getnframes() / file.getframerate()
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float) / 32768
        rate = file.getframerate()
    assert seconds == pytest.approx(said["duration_s"], abs=0.05)
    assert 0.3 < abs(samples).max() < 1.0  # heard, not clipped
    # Loud in the middle of stalling, silent in quiet.
    for change, after in zip(said["changes"], said["changes"][1:], strict=False):
        begin, end = (round((c["time_s"] - 120.5) * rate) for c in (change, after))
        if change["state"] == "stalling":
            assert abs(samples[begin + rate // 10:end]).max() > 0.3
            piece = samples[begin + rate // 10:end - rate // 10]
            loud = np.sqrt((piece[:len(piece) // 441 * 441].reshape(-1, 441) ** 2).mean(axis=1))
            assert loud.min() > 0.1  # 20 ms pieces: no gap in the warble
        if change["state"] == "quiet" and change["time_s"] > 123:
            assert abs(samples[begin + rate // 10:end]).max() == 0.0


@pytest.mark.parametrize("plumbing", PLUMBINGS)
def test_both_runtimes_write_the_same_bytes(tmp_path: Path, plumbing: str) -> None:
    write_flight(tmp_path / "f.csv", "tp_turn60", plumbing)
    write_calibration(tmp_path / "cal.json", plumbing=plumbing)
    said = []
    for runtime in ("cpython", "micropython"):
        done = alula(tmp_path, "replay", "f.csv", "--calibration", "cal.json", "--no-picture",
                     "--trace", f"{runtime}.csv", "--runtime", runtime, "--json")
        assert done.code == 0, done
        said.append(done.out)
    assert (tmp_path / "cpython.csv").read_bytes() == (tmp_path / "micropython.csv").read_bytes()
    assert said[0] == said[1]


def test_twice_the_same_bytes(replayed, tmp_path: Path) -> None:
    folder, _ = replayed
    write_flight(tmp_path / "flight.csv", "tp_stall_1g", first_s=120.5)
    write_calibration(tmp_path / "cal.json")
    alula(tmp_path, "replay", "flight.csv", "--calibration", "cal.json", "--trace", "trace.csv",
          "--sound", "sound.wav", "--no-picture")
    for name in ("trace.csv", "sound.wav"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


def test_summary_warns_and_names_what_was_written(tmp_path: Path) -> None:
    write_flight(tmp_path / "f.csv", "tp_stall_1g", rows=300)
    done = alula(tmp_path, "replay", "f.csv", "--plumbing", "port-static",
                 "--trace", "t/trace.csv")
    assert done.code == 0, done
    assert "never replaces, the primary stall warning" in done.out
    assert "No calibration given" in done.out
    assert set(files(tmp_path)) == {"f.csv", "t/trace.csv", "t/f.png"}
    assert "t/trace.csv" in done.out and "t/f.png" in done.out
    assert set(read_trace(tmp_path / "t/trace.csv")["state"]) <= {"quiet", "uncalibrated"}


def test_g4_byte_order_mark_and_crlf_change_nothing(tmp_path: Path) -> None:
    write_flight(tmp_path / "f.csv", "tp_stall_1g", rows=400)
    text = (tmp_path / "f.csv").read_text()
    (tmp_path / "w.csv").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    for name in ("f", "w"):
        done = alula(tmp_path, "replay", f"{name}.csv", "--plumbing", "port-static",
                     "--no-picture", "--trace", f"{name}-trace.csv")
        assert done.code == 0, done
    assert (tmp_path / "f-trace.csv").read_bytes() == (tmp_path / "w-trace.csv").read_bytes()


def test_times_since_1970_are_drawn_too(tmp_path: Path) -> None:
    write_flight(tmp_path / "f.csv", "tp_stall_1g", first_s=1.79e9, rows=400)
    done = alula(tmp_path, "replay", "f.csv", "--plumbing", "port-static", "--trace", "t.csv")
    assert done.code == 0, done
    assert read_trace(tmp_path / "t.csv")["time_s"][0] == "1790000000.000"
    assert (tmp_path / "f.png").exists()
