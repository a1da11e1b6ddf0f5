"""`alula replay`, `listen` and `calibrate` on logs that others wrote: cases G1, G3, G4, G6, G7."""

import math
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from host_sim.reading.flight_csv import ZERO_IN_FILE, open_flight
from host_sim.reading.unit_files import direct_settings, read_calibration
from host_sim.runtimes.paths import ROOT
from host_sim.runtimes.run import RUNTIMES, Stream, run_blocks, run_stream
from tests.end_to_end.command import (
    alula,
    files,
    read_trace,
    refused,
    write_calibration,
    write_flight,
)
from tests.external.truth import PHASES, load

# Long form: eight hours at 100 Hz, some minutes.
FULL = bool(os.environ.get("ALULA_FULL_CSV"))


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a stall flight, its calibration, and the trace of its replay."""
    folder = tmp_path_factory.mktemp("plain")
    write_flight(folder / "f.csv", "tp_stall_1g")
    write_calibration(folder / "cal.json")
    trace_of(folder, "f.csv")
    return folder


def trace_of(folder: Path, name: str, *words: str, calibration: Path | None = None) -> bytes:
    """The trace that a replay of a file writes."""
    target = Path(name).stem + "-trace.csv"
    done = alula(folder, "replay", name, "--calibration", calibration or folder / "cal.json",
                 "--no-picture", "--trace", target, *words)
    assert done.code == 0 and done.err == "", done
    return (folder / target).read_bytes()


def cells(folder: Path) -> list[list[str]]:
    """The flight's cells: nz_g, time_s, angled_pa, pitot_pa."""
    return [line.split(",") for line in (folder / "f.csv").read_text().splitlines()]


def moved(text: str, places: int) -> str:
    """A decimal number divided by a power of ten, exactly."""
    sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text)
    whole, _, part = digits.partition(".")
    whole = whole.rjust(places + 1, "0")
    return f"{sign}{whole[:-places]}.{whole[-places:]}{part}"


def test_g4_g7_a_foreign_log_decides_what_ours_does(plain: Path, tmp_path: Path) -> None:
    """hPa and ms, semicolons, decimal commas, BOM, CRLF, names of its own, a column of text."""
    _, *rows = cells(plain)
    lines = ["T;q_hPa;dp;az;remark"]
    lines += [";".join([str(round(float(t) * 1000)), moved(p, 2), moved(a, 2), n,
                        "x.y"]).replace(".", ",", 3) for n, t, a, p in rows]
    (tmp_path / "e.csv").write_bytes(("\ufeff" + "\r\n".join(lines) + "\r\n").encode())
    (tmp_path / "m.toml").write_text('[columns]\ntime = "T"\npitot = "q_hPa"\nangled = "dp"\n'
                                     'nz = "az"\n[units]\ntime = "ms"\nangled = "hPa"\nnz = "g"\n')
    wanted = (plain / "f-trace.csv").read_bytes()
    cal = plain / "cal.json"
    assert trace_of(tmp_path, "e.csv", "--map", "m.toml", calibration=cal) == wanted
    words = ("--columns", "time=T,pitot=q_hPa,angled=dp,nz=az", "--units",
             "time=ms,angled=hPa,nz=g")
    assert trace_of(tmp_path, "e.csv", *words, calibration=cal) == wanted
    refused(tmp_path, "replay", "e.csv", "--plumbing", "port-static", "--trace", "t.csv",
            says=("e.csv:1:", "time_s is missing", "--columns time=NAME"))


def test_g6_nan_in_q_at_the_moment_of_stall(plain: Path, tmp_path: Path) -> None:
    flight = load("tp_stall_1g")
    stall_s = PHASES["tp_stall_1g"]["stall_times_s"][0] - flight["time_s"][0]
    for length_s, faulty in ((0.02, False), (2.0, True)):
        header, *rows = cells(plain)
        for row in rows:
            if stall_s <= float(row[1]) < stall_s + length_s - 0.001:
                row[3] = "nan"
        (tmp_path / "n.csv").write_text("".join(",".join(row) + "\n" for row in [header, *rows]))
        trace_of(tmp_path, "n.csv", calibration=plain / "cal.json")
        trace, whole = read_trace(tmp_path / "n-trace.csv"), read_trace(plain / "f-trace.csv")
        time_s = trace["time_s"].astype(float)
        gone = (time_s >= stall_s) & (time_s < stall_s + length_s + 0.3)
        # Case H3: what sounded goes on, or turns to the fault; never silence.
        assert set(trace["state"][gone]) <= {"stalling", "fault"}
        assert ("pitot-no-reply" in trace["health"]) == faulty
        before, after = time_s < stall_s, time_s > stall_s + length_s + 1.0
        for part in (before, after):
            same = trace["state"][part] == whole["state"][part]
            assert same.mean() > (1 if part is before else 0.98) - 1e-9
        assert trace["state"][-1] == whole["state"][-1] == "quiet"


def test_g1_sessions_one_after_another_and_alone(plain: Path, tmp_path: Path) -> None:
    header, *rows = cells(plain)
    half = len(rows) // 2
    parts = [rows[:half], rows[half:]]
    shift = float(rows[half][1]) + 0.0
    parts[1] = [[n, f"{float(t) - shift:.3f}", a, p] for n, t, a, p in parts[1]]
    for name, kept in (("both", parts), ("s1", parts[:1]), ("s2", parts[1:])):
        (tmp_path / f"{name}.csv").write_text("".join(
            ",".join(row) + "\n" for row in [header, *(row for part in kept for row in part)]))
    cal = plain / "cal.json"
    alone = [trace_of(tmp_path, f"s{i}.csv", calibration=cal) for i in (1, 2)]
    for i in (1, 2):
        assert trace_of(tmp_path, "both.csv", "--session", str(i), calibration=cal) == alone[i - 1]
    both = trace_of(tmp_path, "both.csv", calibration=cal).decode().splitlines()
    assert both[0].endswith(",health,session")
    wanted = [f"{line},{i}" for i in (1, 2) for line in alone[i - 1].decode().splitlines()[1:]]
    assert both[1:] == wanted
    done = alula(tmp_path, "replay", "both.csv", "--calibration", cal, "--sound", "b.wav")
    assert done.code == 0 and "session 2: a fresh unit" in done.out
    assert f"session 2: from line {half + 2}, 0.000 s" in done.out
    said = alula(tmp_path, "replay", "both.csv", "--calibration", cal, "--no-picture", "--json")
    assert [one["rows"] for one in said.json()["reading"]["sessions"]] == [half, len(rows) - half]
    assert {one["session"] for one in said.json()["changes"]} == {1, 2}
    assert said.json()["samples"] == len(rows)
    refused(tmp_path, "replay", "both.csv", "--calibration", cal, "--session", "3", "--trace",
            "t.csv", says=("both.csv", "--session 3", "holds 2"))


def test_g1_g3_repairs_are_told_at_the_end_and_in_json(plain: Path, tmp_path: Path) -> None:
    lines = (plain / "f.csv").read_text().splitlines()
    lines[100], lines[101] = lines[101], lines[100]
    lines.insert(200, lines[199])
    lines.insert(300, lines[0])
    lines[400] = lines[400].rpartition(",")[0] + ",--"
    (tmp_path / "r.csv").write_bytes("\n".join(lines).encode() + b"\n0.5,6" + b"\0" * 3000)
    done = alula(tmp_path, "replay", "r.csv", "--calibration", plain / "cal.json", "--no-picture")
    assert done.code == 0
    said = [line for line in done.out.splitlines() if line.startswith("repaired: ")]
    assert len(said) == 5
    for part in ("put in its place (line 102)", "same millisecond as another: left out (line 201)",
                 "passed over (line 301)", "pitot: a missing sample", "padding, or a hole"):
        assert part in "\n".join(said)
    json = alula(tmp_path, "replay", "r.csv", "--calibration", plain / "cal.json", "--no-picture",
                 "--json").json()
    assert {one["kind"]: one["count"] for one in json["reading"]["repairs"]} == {
        "sorted": 1, "same-time": 1, "header-again": 1, "pitot-missing": 1, "damaged": 1}
    assert [f"repaired: {one['text']}" for one in json["reading"]["repairs"]] == said


def test_g3_a_gap_starts_the_filters_again(plain: Path, tmp_path: Path) -> None:
    header, *rows = cells(plain)
    rows = [row for row in rows if not 10.0 <= float(row[1]) < 12.5]
    (tmp_path / "g.csv").write_text("".join(",".join(row) + "\n" for row in [header, *rows]))
    trace_of(tmp_path, "g.csv", calibration=plain / "cal.json")
    trace, whole = read_trace(tmp_path / "g-trace.csv"), read_trace(plain / "f-trace.csv")
    time_s, all_s = trace["time_s"].astype(float), whole["time_s"].astype(float)
    assert (trace["lift_pm"][(time_s >= 12.5) & (time_s < 12.55)] == "").all()
    later, all_later = time_s >= 13.0, all_s >= 13.0
    for name in ("pitot_dpa", "angled_dpa", "lift_pm"):
        assert (trace[name][later] == whole[name][all_later]).all()


def test_calibrate_and_listen_read_the_same(plain: Path, tmp_path: Path) -> None:
    text = (plain / "f.csv").read_text().replace(",", ";").replace(".", ",")
    (tmp_path / "g.csv").write_text(text.replace("pitot_pa", "q"))
    words = ("--columns", "pitot=q", "--units", "pitot=Pa")
    refused(tmp_path, "listen", "g.csv", "--plumbing", "port-static", "--out", "s.wav",
            says=("g.csv:1:", "pitot_pa is missing"))
    done = alula(tmp_path, "listen", "g.csv", "--calibration", plain / "cal.json", "--out",
                 "s.wav", *words)
    assert done.code == 0
    assert alula(plain, "listen", "f.csv", "--calibration", "cal.json", "--out", "s.wav").code == 0
    assert (tmp_path / "s.wav").read_bytes() == (plain / "s.wav").read_bytes()
    ours, theirs = (alula(folder, "calibrate", name, "--plumbing", "port-static", "--no-picture",
                          "--json", *more).json()
                    for folder, name, more in ((plain, "f.csv", ()), (tmp_path, "g.csv", words)))
    for run in (*ours["runs"], *theirs["runs"]):
        del run["file"]
    assert ours["runs"] == theirs["runs"] and len(ours["runs"]) == 1


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_how_rows_are_cut_into_blocks_changes_nothing(plain: Path, runtime: str) -> None:
    """Case G9: blocks of 1, 7 and 1000 rows, and uneven ones."""
    flight = open_flight(plain / "f.csv")
    rows = flight.rows(flight.sessions[0])
    stream = Stream(rows, direct_settings({}, "port-static"),
                    read_calibration(plain / "cal.json", "port-static"), ZERO_IN_FILE)
    whole = run_stream(stream)
    cuts = np.cumsum(np.random.default_rng(3).integers(0, 90, 100))
    for blocks in (*(np.split(rows, range(n, len(rows), n)) for n in (1, 7, 1000)),
                   np.split(rows, cuts[cuts < len(rows)])):
        found = list(run_blocks(iter(blocks), replace(stream, rows=rows[:0]), runtime))
        assert np.concatenate(found).tobytes() == whole.tobytes()


def test_g1_calibrate_takes_each_session_as_a_flight(plain: Path, tmp_path: Path) -> None:
    text = (plain / "f.csv").read_text()
    (tmp_path / "two.csv").write_text(text + text)
    done = alula(tmp_path, "calibrate", "two.csv", "--plumbing", "port-static", "--no-picture",
                 "--json")
    first, second = done.json()["runs"]
    assert (first.pop("file"), second.pop("file")) == ("two.csv#1", "two.csv#2")
    assert first == second
    assert len(done.json()["reading"][0]["sessions"]) == 2


def test_an_output_never_replaces_the_mapping(plain: Path, tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text("[columns]\n")
    refused(tmp_path, "replay", plain / "f.csv", "--plumbing", "port-static", "--map", "m.toml",
            "--no-picture", "--trace", "m.toml", says=("m.toml", "is what is read"))


PEAK = """
import sys
from host_sim.cli import main
code = main(sys.argv[1:])
with open("/proc/self/status") as file:  # not getrusage: that remembers the parent, too
    most = next(line.split()[1] for line in file if line.startswith("VmHWM"))
print(code, most)
"""


def long_flight(path: Path, rows: int) -> None:
    """A flight at 100 Hz, slow waves with noise, hardly a change of state."""
    random = np.random.default_rng(1)
    with path.open("w") as file:
        file.write("time_s,pitot_pa,angled_pa\n")
        for i in range(rows):
            q = 900 + 150 * math.sin(i / 5000) + random.normal(0, 2)
            file.write(f"{i / 100:.2f},{q:.1f},{0.2 * q:.1f}\n")


def peak_kb(folder: Path, rows: int, *words: str) -> int:
    """Most memory that a replay of so many rows ever held."""
    long_flight(folder / "long.csv", rows)
    done = subprocess.run(
        [sys.executable, "-c", PEAK, "replay", "long.csv", "--plumbing", "port-static", "--trace",
         "t.csv", "--no-picture", *words], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, check=True)
    with (folder / "t.csv").open() as file:
        assert sum(1 for _ in file) == rows + 1
    code, most = done.stdout.split("\n")[-2].split()
    assert code == "0"
    return int(most)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs Linux to measure")
def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """hardware_notes/flight_csv.md: the same within 8 MB, from five minutes to eight hours. Here
    from two minutes to ten; with ALULA_FULL_CSV=1 to eight hours. Rows held at once would be some
    300 bytes each: 14 MB more here."""
    least = peak_kb(tmp_path, 12_000)
    assert peak_kb(tmp_path, 2_880_000 if FULL else 60_000) < least + 8_000


def test_an_interrupted_replay_leaves_nothing_behind(tmp_path: Path) -> None:
    long_flight(tmp_path / "long.csv", 240_000)  # still replaying when it is interrupted
    before = files(tmp_path)
    process = subprocess.Popen(
        [sys.executable, "-m", "host_sim", "replay", "long.csv", "--plumbing", "port-static",
         "--trace", "t.csv", "--sound", "s.wav"], cwd=tmp_path, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)})
    while process.poll() is None and not any(
            path.stat().st_size for path in tmp_path.iterdir() if path.name != "long.csv"):
        time.sleep(0.02)  # until the trace is being written
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert said == "alula: interrupted; files that were not finished were not written\n"
    assert files(tmp_path) == before
