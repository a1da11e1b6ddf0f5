"""Where `alula tune` has its stalls from: the captures in a log, as flown; or a list by `alula
calibrate`. One first flight of an invented aeroplane, three guided stalls, on a bench unit."""

import argparse
from pathlib import Path

import numpy as np
import pytest

from alula import log_layout as layout
from host_sim.errors import UsageError
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.reading.unit_log import UnitLog, open_log
from host_sim.reading.unit_log_blocks import Header
from host_sim.runtimes import own_captures as room
from host_sim.runtimes.own_captures import OwnCaptures, own_captures
from host_sim.runtimes.session import IN_COLUMNS, OUT_COLUMNS
from host_sim.tuning.candidates import TUNABLE
from host_sim.tuning.fleet.loading import Fleet, load_fleet
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.end_to_end.command import alula, refused
from tests.log_flight import flown

BLOCK = layout.BLOCK_BYTES
MARK_S = 1.0  # the mark is the peak of a mean over a second


@pytest.fixture(scope="module")
def first(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """(log, decisions in flight)."""
    return flown(tmp_path_factory.mktemp("first"), "first-flight", calibrated=False)


@pytest.fixture(scope="module")
def broken_s() -> list[float]:
    """When the wing broke: the simulated world's own word, seed 1."""
    return fly(load_scenario("first-flight"), 1, "port-static").stalls


def fleet(path: Path, **options) -> Fleet:
    parser = argparse.ArgumentParser()
    add_csv_arguments(parser, one_file=False)
    arguments = {**vars(parser.parse_args([])), "files": [path], "truth": False, "stalls": None,
                 "calibration": None, "settings": None, "plumbing": None, **options}
    return load_fleet(argparse.Namespace(**arguments), TUNABLE)


def after_s(header: Header, first: Header) -> float:
    return (header.first_ms - first.first_ms) / 1000


def own(log: UnitLog) -> OwnCaptures:
    return own_captures("flight", log.sessions[0], log.content)


def test_the_runs_are_those_of_the_flight(first, broken_s):
    """Number, stall ratio and time: by what the unit decided in flight, and by the world."""
    log, out = first
    verdicts, ratios = (out[:, OUT_COLUMNS.index(name)] for name in ("verdicts", "stall_bp"))
    at = np.flatnonzero(np.diff(verdicts)) + 1
    found = own(open_log(log))
    assert found.unclear == 0
    assert [run.stall_ratio_bp for run in found.runs] == ratios[at].tolist()
    assert all(run.accepted for run in found.runs)
    assert [run.stall_time_s for run in found.runs] == pytest.approx(broken_s, abs=MARK_S)


def test_tune_counts_them_once_though_the_desk_finds_them_too(first, broken_s):
    found = fleet(first[0])
    assert [one / 1000 for one in found.flights[0].stalls_ms] == [
        run.stall_time_s for run in own(open_log(first[0])).runs]
    assert any(note.startswith(f"{len(broken_s)} stalls are captures that were flown") and
               "found 0 more" in note for note in found.notes)


def test_a_log_without_a_verdict_is_not_replayed(first, broken_s, monkeypatch):
    def never(job):
        raise AssertionError("replayed")

    monkeypatch.setattr(room, "LogSession", never)
    log = open_log(first[0])
    order = log.sessions[0].order
    order[:] = [header for header in order if after_s(header, order[0]) < broken_s[0] - 30]
    assert own(log).runs == []


def test_a_verdict_that_this_firmware_does_not_give_is_not_made_up(first, monkeypatch):
    """The same log, replayed as if nobody had pressed the button."""
    rows_of = room.logged_rows

    def unpressed(item):
        rows = rows_of(item).copy()
        rows[:, IN_COLUMNS.index("button")] = 0
        return rows

    monkeypatch.setattr(room, "logged_rows", unpressed)
    found = own(open_log(first[0]))
    assert (found.runs, found.unclear) == ([], 3)
    marked = fleet(first[0])
    assert len(marked.flights[0].stalls_ms) == 3
    assert any(note.startswith("3 verdicts") for note in marked.notes)


def test_a_list_by_calibrate_is_what_tune_takes(first, broken_s, tmp_path):
    (tmp_path / "1.log").write_bytes(first[0].read_bytes())
    done = alula(tmp_path, "calibrate", "1.log", "--no-picture", "--stalls", "stalls.csv")
    assert done.code == 0, done.err
    found = fleet(tmp_path / "1.log", stalls=tmp_path / "stalls.csv")
    assert [one / 1000 for one in found.flights[0].stalls_ms] == pytest.approx(
        broken_s, abs=MARK_S)
    assert found.flights[0].stalls_from == "stalls.csv"


def test_a_list_may_name_a_session_whose_log_has_a_gap(first, broken_s, tmp_path):
    """As `alula calibrate` names it; each part has its own stalls, and one in the gap is
    refused."""
    data = bytearray(first[0].read_bytes())
    order = open_log(first[0]).sessions[0].order
    hurt = next(one for one in order if after_s(one, order[0]) > broken_s[0] + 12)
    data[hurt.offset + 99] ^= 1
    (tmp_path / "hurt.log").write_bytes(data)
    stalls = tmp_path / "s.csv"
    stalls.write_text("flight,stall_s\n" + "".join(f"hurt.log,{one:.2f}\n" for one in broken_s))
    found = fleet(tmp_path / "hurt.log", stalls=stalls)
    assert [(one.name, len(one.stalls_ms)) for one in found.flights] == [
        ("hurt.log part 1", 1), ("hurt.log part 2", 2)]
    whole = own(open_log(first[0])).runs[0].stall_time_s
    before, after = fleet(tmp_path / "hurt.log").flights
    assert before.stalls_ms == (round(1000 * whole),)  # the pilot armed it before the gap
    assert len(after.stalls_ms) >= 1  # there the unit is a fresh one, and the desk arms it
    gap_s = after_s(hurt, order[0]) + 1
    stalls.write_text(f"flight,stall_s\nhurt.log,{gap_s:.2f}\n")
    with pytest.raises(UsageError, match="blocks are missing"):
        fleet(tmp_path / "hurt.log", stalls=stalls)


def test_calibrate_writes_no_empty_list(tmp_path):
    rows = ["time_s,pitot_pa,angled_pa"] + [f"{i / 50:.2f},400,40" for i in range(600)]
    (tmp_path / "a.csv").write_text("\n".join(rows) + "\n")
    done = alula(tmp_path, "calibrate", "a.csv", "--plumbing", "port-static", "--no-picture",
                 "--stalls", "s.csv")
    assert done.code == 1
    assert "s.csv not written: no accepted stall run" in done.err
    assert not (tmp_path / "s.csv").exists()
    refused(tmp_path, "calibrate", "a.csv", "--plumbing", "port-static", "--no-picture",
            "--stalls", "a.csv", says=("--stalls", "a.csv"))
