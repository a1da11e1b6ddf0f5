"""`alula fly`: every shipped scenario keeps what its title promises, through drivers and loop."""

import wave
from functools import cache
from pathlib import Path

import matplotlib
import pytest

from host_sim.world.scenario import list_scenarios, load_scenario
from tests.end_to_end.command import alula, files, read_trace

matplotlib.use("Agg")

from matplotlib import image

FILES = {"flight.csv", "trace.csv", "calibration.json", "picture.png", "sound.wav"}
WARNINGS = {"pressing", "stalling"}


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory):
    """Flies a scenario once: (its folder, what the command said in JSON)."""
    root = tmp_path_factory.mktemp("fly")

    @cache
    def fly(name: str, seed: int = 1, *more: str):
        folder = root / "-".join((name, str(seed), *more))
        done = alula(root, "fly", name, "--seed", seed, "--out", folder, "--json", *more)
        assert done.code == 0 and done.err == "", done
        return folder, done.json()

    return fly


def begun(said: dict, state: str) -> list[float]:
    """Times at which a state began."""
    return [change["time_s"] for change in said["changes"] if change["state"] == state]


@pytest.mark.parametrize("name", list_scenarios())
def test_every_scenario_flies_and_writes_its_files(flown, name: str) -> None:
    folder, said = flown(name)
    assert set(files(folder)) == FILES
    assert said["scenario"] == load_scenario(name).title
    trace = read_trace(folder / "trace.csv")
    assert len(trace["time_s"]) == said["samples"]
    assert set(trace["state"]) <= {"quiet", "calm"} | WARNINGS  # a healthy unit: no fault
    assert image.imread(folder / "picture.png")[..., :3].std() > 0.05
    with wave.open(str(folder / "sound.wav"), "rb") as file:
        length_s = file.getnframes() / file.getframerate()
    assert length_s == pytest.approx(said["duration_s"], abs=0.1)


@pytest.mark.parametrize("name", [
    name for name in list_scenarios() if load_scenario(name).phases[-1].do == "flare_land"])
def test_flights_begin_and_end_quiet_on_the_ground(flown, name: str) -> None:
    _, said = flown(name)
    first, last = said["changes"][0], said["changes"][-1]
    assert (first["state"], last["state"]) == ("quiet", "quiet")
    trace = read_trace(flown(name)[0] / "trace.csv")
    assert trace["health"][-1] == "on-ground"
    assert said["changes"][1]["time_s"] > 10  # nothing sounds while parked


@pytest.mark.parametrize("seed", [1, 2, 3, 8, 19, 38])
def test_h10_an_ordinary_circuit_never_presses(flown, seed: int) -> None:
    # 14 CFR 23.207(d): no warning in normal take-off and approach; light turbulence included.
    _, said = flown("ordinary", seed)
    assert set(said["seconds"]) <= {"quiet", "calm"}
    assert said["stalls_s"] == []


@pytest.mark.parametrize("seed", [1, 2])
def test_the_tightened_turn_stalls_the_ear_and_not_the_wing(flown, seed: int) -> None:
    _, said = flown("tightened-turn", seed)
    assert said["stalls_s"] == []
    assert len(begun(said, "stalling")) == 1
    assert begun(said, "pressing")[0] < begun(said, "stalling")[0]
    assert said["seconds"]["stalling"] < 3.0  # released at once when the stick goes forward


@pytest.mark.parametrize("seed", [1, 2])
def test_the_straight_stall_is_heard_coming(flown, seed: int) -> None:
    _, said = flown("stall-straight", seed)
    stall_s, = said["stalls_s"]
    assert stall_s - begun(said, "pressing")[0] >= 5.0  # own promise
    assert stall_s - begun(said, "stalling")[0] >= 1.4
    # 14 CFR 23.207(c): 5 kt above the stall speed, and on until the stall.
    pressing = next(c for c in said["changes"] if c["state"] == "pressing")
    stalling = next(c for c in said["changes"] if c["state"] == "stalling")
    assert pressing["ias_kt"] - stalling["ias_kt"] >= 5.0
    after = next(c for c in said["changes"] if c["time_s"] > stalling["time_s"])
    assert after["time_s"] > stall_s


def test_the_first_flight_holds_three_stalls_each_heard(flown) -> None:
    _, said = flown("first-flight")
    assert len(said["stalls_s"]) == 3
    for stall_s in said["stalls_s"]:
        near = [t for t in begun(said, "stalling") if stall_s - 10 < t < stall_s]
        assert len(near) == 1 and stall_s - near[0] >= 1.4


def test_of_the_steep_turns_only_the_slow_one_presses(flown) -> None:
    folder, said = flown("steep-turns")
    assert said["stalls_s"] == [] and "stalling" not in said["seconds"]
    speeds = [c["ias_kt"] for c in said["changes"] if c["state"] == "pressing"]
    assert speeds and all(65 < kt < 85 for kt in speeds)  # flown at 75 kt; the fast one at 90
    trace = read_trace(folder / "trace.csv")
    assert (trace["state"] == "pressing").sum() >= 300  # 3 s and more: heard, no blip


def test_gusts_in_slow_flight_come_and_go(flown) -> None:
    _, said = flown("slow-flight-gusts")
    assert said["stalls_s"] == []
    assert len(begun(said, "pressing")) > 3
    assert said["changes"][-1]["state"] == "quiet"


def test_the_failed_engine_is_followed_by_a_warning(flown) -> None:
    _, said = flown("engine-failure")
    assert said["stalls_s"] == []
    assert begun(said, "pressing") and "stalling" not in said["seconds"]


def test_uncalibrated_gives_no_margin_sounds_ever(flown) -> None:
    folder, said = flown("stall-straight", 1, "--uncalibrated")
    assert not WARNINGS & set(said["seconds"])
    assert said["seconds"]["uncalibrated"] > 0.9 * said["duration_s"]
    trace = read_trace(folder / "trace.csv")
    assert set(trace["lift_pm"]) == {""}


def test_a_flight_without_a_calibration_leaves_no_file_of_one(flown, tmp_path: Path) -> None:
    folder, said = flown("stall-straight", 1, "--uncalibrated")
    assert set(files(folder)) == FILES - {"calibration.json"} == set(said["written"])
    assert set(flown("stall-straight")[1]["written"]) == FILES
    # nor one of an earlier flight into the same folder, which would be taken for this one's
    out, flash = tmp_path / "out", tmp_path / "flash"
    assert alula(tmp_path, "fly", "rejected-take-off", "--out", out).code == 0
    assert (out / "calibration.json").exists()
    done = alula(tmp_path, "fly", "rejected-take-off", "--out", out, "--flash", flash)
    assert done.code == 0 and set(files(out)) == FILES - {"calibration.json"}
    line, = [line for line in done.out.splitlines() if line.startswith("written to")]
    assert "no calibration.json: the unit started without one" in line and str(flash) in line


def test_a_calibration_in_the_flash_folder_is_the_units_own(tmp_path: Path) -> None:
    """The flight's files beside the unit's: what was laid there by hand stays."""
    (tmp_path / "unit").mkdir()
    path = tmp_path / "unit" / "calibration.json"
    path.write_text("null\n")  # as an earlier version wrote it
    done = alula(tmp_path, "fly", "rejected-take-off", "--flash", "unit", "--out", "unit")
    assert done.code == 0 and path.read_text() == "null\n"
    told, = [line for line in done.out.splitlines() if "calibration.json: is not" in line]
    assert "copy it to the board again" in told  # and the unit is uncalibrated, which it says


@pytest.mark.parametrize("plumbing", ["pitot-port", "opposed"])
def test_other_plumbing_same_decisions_within_a_moment(flown, plumbing: str) -> None:
    _, one = flown("stall-straight")
    _, other = flown("stall-straight", 1, "--plumbing", plumbing)
    for state in ("pressing", "stalling"):
        # 0.4 s: 1 Pa of noise on 300 Pa is 0.01 of ratio at most, 0.02 of lift; lift rises 0.05/s
        assert begun(other, state)[0] == pytest.approx(begun(one, state)[0], abs=0.4)


def test_both_runtimes_fly_the_same_bytes(flown) -> None:
    here, said = flown("tightened-turn")
    there, also = flown("tightened-turn", 1, "--runtime", "micropython")
    assert said == also
    for name in FILES - {"picture.png"}:
        assert (here / name).read_bytes() == (there / name).read_bytes()


def test_what_was_flown_can_be_replayed(flown, tmp_path: Path) -> None:
    # The written flight is free of noise and zero error, so times differ a little.
    folder, said = flown("tightened-turn")
    done = alula(tmp_path, "replay", folder / "flight.csv", "--calibration",
                 folder / "calibration.json", "--no-picture", "--json")
    assert done.code == 0, done
    for state in WARNINGS:
        assert begun(done.json(), state)[0] == pytest.approx(begun(said, state)[0], abs=0.3)


def test_the_list_names_every_scenario_with_its_title(tmp_path: Path) -> None:
    done = alula(tmp_path, "fly", "--list")
    assert done.code == 0
    for name in list_scenarios():
        assert f"{name} " in done.out and load_scenario(name).title in done.out
    assert files(tmp_path) == {}


def test_the_summary_says_that_it_is_simulated(tmp_path: Path) -> None:
    done = alula(tmp_path, "fly", "steep-turns", "--out", "o")
    assert done.code == 0
    assert "invented aeroplane" in done.out
    assert "never replaces, the primary stall warning" in done.out
