"""`alula review`, `listen` and `calibrate` take a unit's log as they take a CSV.

Whole simulated flights on a bench unit that logs. Case G3 for logs with damage in them.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from alula import log_layout as layout
from host_sim.fly import sensor_rows
from host_sim.reading.unit_log import open_log
from host_sim.reading.unit_log_head import UnitChange
from host_sim.runtimes.session import OUT_COLUMNS
from host_sim.world.flight import fly
from host_sim.world.scenario import load_scenario
from tests.end_to_end.command import alula, refused
from tests.log_flight import LoggedBench, flown

BLOCK = layout.BLOCK_BYTES


@pytest.fixture(scope="module")
def turn(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """(log, decisions in flight) of a turn that is tightened."""
    return flown(tmp_path_factory.mktemp("turn"), "tightened-turn")


@pytest.fixture(scope="module")
def straight(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """The same of a straight stall."""
    return flown(tmp_path_factory.mktemp("straight"), "stall-straight")


@pytest.fixture(scope="module")
def first(tmp_path_factory) -> Path:
    """The log of a first flight: three guided stalls."""
    return flown(tmp_path_factory.mktemp("first"), "first-flight", calibrated=False)[0]


@pytest.fixture(scope="module")
def two(turn, tmp_path_factory) -> Path:
    """A file with two sessions of one unit."""
    folder = tmp_path_factory.mktemp("two")
    for name in ("00001-000.log", "settings.a", "zero.a", "calibration.json"):
        (folder / name).write_bytes((turn[0].parent / name).read_bytes())
    unit = LoggedBench(folder)
    unit.fly(sensor_rows(fly(load_scenario("ordinary"), 1), 1)[:9000])
    unit.off()
    both = folder / "both.log"
    both.write_bytes(b"".join(path.read_bytes() for path in sorted(folder.glob("0*.log"))))
    return both


def test_review_of_a_log_shows_what_was_decided_in_flight(straight, tmp_path):
    log, out = straight
    done = alula(tmp_path, "review", log, "--out", "page", "--no-pictures", "--json")
    assert done.code == 0, done.err
    (found,) = done.json()["logs"]
    state, now = (out[:, OUT_COLUMNS.index(name)] for name in ("state", "now_ms"))
    assert len(found["stalls"]) >= 1
    # the first warning before the first stall, on the page's axis: the flight's own numbers
    lead = found["stalls"][0]
    pressing_ms = now[np.argmax(state == 2)] - now[0]
    assert abs(lead["at_s"] - lead["pressing"]["seconds"] - pressing_ms / 1000) < 0.011
    page = (tmp_path / "page" / "review.html").read_text()
    assert "session 1 of a unit with firmware" in page and "calibration: the log" in page
    assert "NO CALIBRATION" not in page


def test_review_and_listen_need_one_session_to_be_chosen(two, tmp_path):
    for verb in ("review", "listen"):
        refused(tmp_path, verb, two, says=("holds sessions 1, 2", "--session N"))
    done = alula(tmp_path, "review", two, "--session", "2", "--out", "p", "--no-pictures",
                 "--json")
    assert done.code == 0 and done.json()["logs"][0]["stalls"] == []


def test_listen_gives_the_sound_of_the_flight(turn, two, tmp_path):
    log, _ = turn
    assert alula(tmp_path, "listen", log, "--out", "a.wav").code == 0
    done = alula(tmp_path, "replay", log, "--no-picture", "--sound", "b.wav")
    assert done.code == 0
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()
    assert alula(tmp_path, "listen", two, "--session", "1", "--out", "c.wav").code == 0
    assert (tmp_path / "c.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_g3_review_tells_gaps_damage_and_other_decisions(turn, tmp_path):
    data = bytearray(turn[0].read_bytes())
    data[5 * BLOCK + 99] ^= 1
    (tmp_path / "hurt.log").write_bytes(data)
    done = alula(tmp_path, "review", "hurt.log", "--out", "p", "--no-pictures")
    assert done.code == 0, done.err
    assert "gap: 1 block missing" in done.out and "checksum is wrong" in done.out
    assert "decide otherwise" not in done.out
    (tmp_path / "late.json").write_text(json.dumps({"pressing_pm": 800}))
    done = alula(tmp_path, "review", turn[0], "--settings", "late.json", "--out", "q",
                 "--no-pictures")
    assert done.code == 0
    assert "decide otherwise than the unit did in flight" in done.out
    assert "the log, changed by --settings" in done.out


def test_review_of_one_log_with_two_settings_on_one_axis(straight, tmp_path):
    (tmp_path / "late.json").write_text(json.dumps({"pressing_pm": 800}))
    (tmp_path / "same.json").write_text("{}")
    done = alula(tmp_path, "review", *2 * [straight[0]], "--settings", "same.json", "--settings",
                 "late.json", "--out", "p", "--no-pictures", "--json")
    assert done.code == 0, done.err
    one, other = done.json()["logs"]
    assert done.json()["comparison"]["offset_s"] == pytest.approx(0, abs=1e-9)
    leads = [log["stalls"][0]["pressing"]["seconds"] for log in (one, other)]
    assert leads[0] > leads[1] > 0


def test_calibrate_finds_in_the_log_what_the_unit_found_in_flight(first, tmp_path):
    done = alula(tmp_path, "calibrate", first, "--out", "cal.json", "--no-picture", "--json")
    assert done.code == 0, done.err
    said = done.json()
    accepted = [run for run in said["runs"] if run["accepted"]]
    assert len(accepted) == 3
    vault = alula(tmp_path, "replay", first, "--json", "--no-picture").json()
    assert vault["sessions"][0]["equal"]
    # the unit stored this curve in flight: the CHANGE block of its log has it
    log = open_log(first)
    stored = [item.value for item in log.sessions[0].items(log.content)
              if isinstance(item, UnitChange)]
    points = np.array(json.loads((tmp_path / "cal.json").read_text())["points"])
    flown_points = np.array(stored[-1]["curves"][0]["points"])
    # armed at once, not by the pilot, each run begins elsewhere: 1 % of the lift, 0.01 in ratio
    assert len(points) == len(flown_points) and (abs(points - flown_points) <= (100, 10)).all()


def test_calibrate_refuses_what_cannot_be_combined(first, turn, tmp_path):
    (tmp_path / "a.csv").write_text("time_s,pitot_pa,angled_pa\n0,1,2\n")
    refused(tmp_path, "calibrate", first, "a.csv", says=("a.csv", "logs or from CSVs"))
    refused(tmp_path, "calibrate", first, "--plumbing", "opposed",
            says=("leave out --plumbing",))
    other = flown(tmp_path / "other", "stall-straight", plumbing="opposed")[0]
    refused(tmp_path, "calibrate", first, other, says=("other sensors or plumbing",))


def test_whatever_was_flown_the_log_is_whole(tmp_path):
    """Also where the power goes while a block is being written: the board keeps nothing of it."""
    for name in ("ordinary", "capture-flap20", "rejected-take-off", "engine-failure"):
        assert alula(tmp_path, "fly", name, "--flash", name).code == 0
        (log,) = (tmp_path / name).glob("*.log")
        assert log.stat().st_size % BLOCK == 0
        done = alula(tmp_path, "replay", log, "--no-picture", "--json")
        assert done.code == 0 and done.json()["damage"] == [], name
