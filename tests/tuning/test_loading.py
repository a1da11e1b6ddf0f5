"""Flights and their truth: read as they are, or refused in one clear line."""

import argparse
import json

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import add_csv_arguments
from host_sim.tuning.candidates import TUNABLE
from host_sim.tuning.fleet.flights import pack
from host_sim.tuning.fleet.loading import load_fleet
from host_sim.tuning.measuring.fleet_wing import wing_of, word_noise_dpa
from host_sim.tuning.measuring.reference import readings
from tests.tuning.made import CURVE, SETTINGS, slowing


def as_csv(path, flight, stall=None, every=1):
    """A made flight as a CSV; stall: (from, to) in s, or a list of cells."""
    rows = flight.rows[::every]
    cells = ([""] * len(rows) if stall is None else stall if isinstance(stall, list)
             else [str(int(stall[0] <= t / 1000 < stall[1])) for t in rows[:, 0]])
    lines = ["time_s,pitot_pa,angled_pa,nz_g,stall" if stall else "time_s,pitot_pa,angled_pa,nz_g"]
    lines += [f"{100 + row[0] / 1000:.3f},{row[2] / 10:.1f},{row[4] / 10:.1f},{row[6] / 1000:.3f}"
              + (f",{cell}" if stall else "") for row, cell in zip(rows, cells, strict=True)]
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.fixture
def calibration(tmp_path):
    path = tmp_path / "calibration.json"
    path.write_text(json.dumps(CURVE))
    return path


def fleet(files, calibration, **options):
    parser = argparse.ArgumentParser()
    add_csv_arguments(parser, one_file=False)
    arguments = {**vars(parser.parse_args([])), "files": files, "truth": False, "stalls": None,
                 "calibration": calibration, "settings": None, "plumbing": None, **options}
    return load_fleet(argparse.Namespace(**arguments), TUNABLE)


def refusal(*words, **options):
    with pytest.raises(UsageError) as refused:
        fleet(*words, **options)
    return str(refused.value)


def test_a_column_of_truth_gives_the_stalls(tmp_path, calibration):
    flight = slowing()
    (stall_ms,) = flight.stalls_ms
    path = as_csv(tmp_path / "a.csv", flight, (stall_ms / 1000, 53))
    found = fleet([path], calibration, truth=True)
    assert found.flights[0].stalls_ms == flight.stalls_ms
    assert found.flights[0].rows.shape == flight.rows.shape
    assert np.array_equal(found.flights[0].rows[:, [0, 2, 4, 6]], flight.rows[:, [0, 2, 4, 6]])
    assert found.settings["sample_rate_hz"] == 50


def test_a_list_of_stalls_counts_as_the_flight_counts(tmp_path, calibration):
    flight = slowing()
    path, stalls = as_csv(tmp_path / "a.csv", flight), tmp_path / "stalls.csv"
    stalls.write_text(f"flight,stall_s\na.csv,{100 + flight.stalls_ms[0] / 1000}\n")
    assert fleet([path], calibration, stalls=stalls).flights[0].stalls_ms == flight.stalls_ms


def test_flights_stand_in_the_order_of_their_names(tmp_path, calibration):
    paths = [as_csv(tmp_path / f"{name}.csv", slowing(seed=seed), (48, 53))
             for seed, name in enumerate("ba")]
    for files in (paths, paths[::-1]):
        assert [one.name for one in fleet(files, calibration, truth=True).flights] == [
            "a.csv", "b.csv"]


@pytest.mark.parametrize(("stall", "says"), [
    (["0"] * 100 + ["2"] * 3400, ("stall is '2'", "a.csv:102", "0 or 1")),
    (["0"] * 3500, ("no stall in these flights", "--truth", "--stalls")),
    ((48, 53, 1), ())])
def test_a_column_that_is_no_truth(tmp_path, calibration, stall, says):
    path = as_csv(tmp_path / "a.csv", slowing(), stall)
    if not says:
        assert fleet([path], calibration, truth=True).flights
        return
    said = refusal([path], calibration, truth=True)
    for part in says:
        assert part in said


@pytest.mark.parametrize(("text", "says"), [
    ("flight;stall_s\n", "flight,stall_s"),
    ("flight,stall_s\na.csv,soon\n", "stalls.csv:2"),
    ("flight,stall_s\nb.csv,120\n", "'b.csv' is none of the flights"),
    ("flight,stall_s\na.csv,99\n", "the flight lasts"),
    ("flight,stall_s\na.csv,171\n", "the flight lasts"),
    ("flight,stall_s\na.csv,146.5\na.csv,147.1\n", "two stalls within 0.60 s")])
def test_a_list_that_cannot_be_true(tmp_path, calibration, text, says):
    path, stalls = as_csv(tmp_path / "a.csv", slowing()), tmp_path / "stalls.csv"
    stalls.write_text(text)
    assert says in refusal([path], calibration, stalls=stalls)


def test_truth_that_contradicts_the_calibration(tmp_path, calibration):
    """A stall is stated at 0.4 of the lift: one of the two is wrong, nobody may guess which."""
    path, stalls = as_csv(tmp_path / "a.csv", slowing()), tmp_path / "stalls.csv"
    stalls.write_text("flight,stall_s\na.csv,106\n")
    (flight,) = fleet([path], calibration, stalls=stalls).flights
    with pytest.raises(UsageError, match=r"at most 0.4\d of the lift.*one of them is wrong"):
        list(readings(flight, ()))


def test_both_kinds_of_truth_or_a_missing_column_are_refused(tmp_path, calibration):
    path, stalls = as_csv(tmp_path / "a.csv", slowing()), tmp_path / "stalls.csv"
    stalls.write_text("flight,stall_s\n")
    assert "give one" in refusal([path], calibration, truth=True, stalls=stalls)
    assert "needs a column stall" in refusal([path], calibration, truth=True)
    assert "no stall in these flights" in refusal([path], calibration, stalls=stalls)


def test_mixed_sample_rates_are_refused(tmp_path, calibration):
    one = as_csv(tmp_path / "a.csv", slowing(), (48, 53))
    other = slowing()
    rows = np.repeat(other.rows, 2, axis=0)
    rows[:, 0] = np.arange(len(rows)) * 10
    fast = as_csv(tmp_path / "b.csv", type(other)("b", pack(rows), SETTINGS, CURVE, None),
                  (48, 53))
    assert "mixed sample rates" in refusal([one, fast], calibration, truth=True)
    slow = as_csv(tmp_path / "c.csv", slowing(), (48, 53), every=2)
    assert "one sample every 40 ms" in refusal([slow], calibration, truth=True)


def test_two_files_of_one_name_are_refused(tmp_path, calibration):
    (tmp_path / "other").mkdir()
    paths = [as_csv(folder / "a.csv", slowing(), (48, 53)) for folder in (
        tmp_path, tmp_path / "other")]
    assert "two files have this name" in refusal(paths, calibration, truth=True)


def test_no_calibration_anywhere_is_refused(tmp_path):
    path = as_csv(tmp_path / "a.csv", slowing(), (48, 53))
    assert "has no calibration" in refusal([path], None, truth=True, plumbing="port-static")
    assert "these flights make none" in refusal([path], None, plumbing="port-static")


def test_the_noise_of_words_is_found_under_a_flight():
    """Gaussian noise of 5 (0.1 Pa) over a slow-down; a median of 3 500 second differences tells
    it to some 3 % (1.17 / sqrt(2 n), correlated threefold)."""
    rng = np.random.default_rng(3)
    slow = np.linspace(5000, 2500, 3500)
    flying = np.ones(3500, bool)
    assert word_noise_dpa(slow + rng.normal(0, 50, 3500), flying, 1) == pytest.approx(50, rel=0.1)
    assert word_noise_dpa(np.round(slow), flying, 12) == pytest.approx(12 / 12 ** 0.5)


def test_the_wing_is_that_of_the_flights(tmp_path, calibration):
    flight = slowing()
    path = as_csv(tmp_path / "a.csv", flight, (flight.stalls_ms[0] / 1000, 53))
    wing = wing_of(fleet([path], calibration, truth=True))
    assert wing.q_stall_dpa == pytest.approx(2500, rel=0.02)
    assert wing.noise_dpa == pytest.approx((5, 5), rel=0.1)
    assert wing.points == CURVE["points"]


def test_packing_gives_every_row_back():
    rng = np.random.default_rng(5)
    rows = rng.integers(-2 ** 30, 2 ** 30, (500, 9)).astype(np.int32)
    rows[:, 0] = np.arange(500)
    flight = slowing()
    assert np.array_equal(type(flight)("x", pack(rows), {}, CURVE, None).rows, rows)
    assert sum(map(len, flight.packed)) < 0.3 * flight.rows.nbytes
