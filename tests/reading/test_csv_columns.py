"""Cases G6 and G7: which column holds what, in which unit; missing, moved and extra columns."""

import itertools
from pathlib import Path

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.reading.csv_choice import Choice
from host_sim.reading.csv_units import PRESSURE, UNITS, find_unit
from host_sim.runtimes.paths import use_firmware
from tests.csv_file import opened, samples
from tests.external.truth import Probe, load, pressures

use_firmware()

from alula.sample import FLAP_NOT_WIRED, FLAP_UNCLEAR

COLUMNS = {"time_s": ["0", "0.1"], "pitot_pa": ["400", "401"], "angled_pa": ["160", "161"],
           "nz_g": ["1", "1.01"], "flap": ["0", "20"], "speed_kt": ["50", "50"]}


def table(columns: dict[str, list[str]]) -> str:
    """Columns as CSV."""
    return "".join(",".join(cells) + "\n" for cells in [list(columns), *zip(
        *columns.values(), strict=True)])


def test_factors_from_their_definitions() -> None:
    # NIST SP 811 (2008), appendix B.8, from memory: psi 6.894 757 E+03; inch of water,
    # conventional 2.490 889 E+02; millimetre of water, conventional 9.806 65 E+00.
    assert PRESSURE["psi"] == pytest.approx(6.894757e3, rel=1e-7)
    assert PRESSURE["inH2O"] == pytest.approx(2.490889e2, rel=1e-7)
    assert PRESSURE["mmH2O"] == 9.80665
    # psi: 0.45359237 kg under 9.80665 m/s2 on a square of 0.0254 m; inch of water: 25.4 mm
    assert PRESSURE["psi"] == pytest.approx(0.45359237 * 9.80665 / 0.0254 ** 2, rel=1e-14)
    assert PRESSURE["inH2O"] == pytest.approx(25.4 * 9.80665, rel=1e-14)
    # the international knot and mile, exact
    assert UNITS["speed"]["kt"] == pytest.approx(1852 / 3.6)
    assert UNITS["speed"]["mph"] == pytest.approx(1609.344 / 3.6)
    assert UNITS["nz"]["m/s2"] * 9.80665 == pytest.approx(1000)


def test_units_are_known_in_any_case_and_by_both_signs_for_micro() -> None:
    for role, text, unit in (("pitot", "HPA", "hPa"), ("angled", " inh2o ", "inH2O"),
                             ("time", "\u00b5s", "us"), ("time", "\u03bcs", "us"),
                             ("speed", "km/h", "km/h"), ("speed", "kmh", "km/h"),
                             ("speed", "ms", "m/s"), ("time", "ms", "ms")):
        assert find_unit(role, text) == unit
    for role, text in (("pitot", "bar"), ("time", "min"), ("speed", "knots"), ("pitot", ""),
                       ("pitot", "MPa")):
        assert find_unit(role, text) is None


@pytest.mark.parametrize("name", COLUMNS)
def test_g6_each_column_dropped(tmp_path: Path, name: str) -> None:
    text = table({key: cells for key, cells in COLUMNS.items() if key != name})
    role = name.split("_")[0]
    if role in ("time", "pitot", "angled"):
        with pytest.raises(UsageError, match=rf"f\.csv:1: column {name} is missing; .*--columns "
                           rf"{role}=NAME"):
            opened(tmp_path, text)
        return
    flight = opened(tmp_path, text)
    assert samples(flight) == [[(0, 4000, 1600), (100, 4010, 1610)]]
    said = {"nz": "no nz column: accelerometer not fitted",
            "flap": "no flap column: flap switches not wired"}.get(role)
    assert said is None or any(said in line for line in flight.lines())


def test_g6_any_order_and_extra_columns(tmp_path: Path) -> None:
    wanted = opened(tmp_path, table(COLUMNS))
    rows = wanted.rows(wanted.sessions[0]).tolist()
    for order in itertools.islice(itertools.permutations(COLUMNS), 0, 720, 37):
        flight = opened(tmp_path, table({"note": ["a", "b"], **{k: COLUMNS[k] for k in order},
                                         "time_of_day_s": ["7", "x"]}))
        assert flight.rows(flight.sessions[0]).tolist() == rows
        assert "note: columns passed over: 'note', 'time_of_day_s'" in flight.lines()


def test_g6_flaps_not_wired_missing_and_set(tmp_path: Path) -> None:
    flight = opened(tmp_path, "time_s,pitot_pa,angled_pa,flap\n0,1,2,0\n1,1,2,\n2,1,2,20\n")
    assert flight.rows(flight.sessions[0])[:, 7].tolist() == [0, FLAP_UNCLEAR, 20]
    flight = opened(tmp_path, "time_s,pitot_pa,angled_pa\n0,1,2\n")
    assert flight.rows(flight.sessions[0])[:, 7].tolist() == [FLAP_NOT_WIRED]


def test_g6_a_pressure_that_never_changes_is_said(tmp_path: Path) -> None:
    rows = "".join(f"{i / 50},{400 + i % 7},160\n" for i in range(200))
    flight = opened(tmp_path, "time_s,pitot_pa,angled_pa\n" + rows)
    assert any("angled is 160 Pa in every row" in line for line in flight.lines())
    assert not any("pitot is" in line for line in flight.lines())


FOREIGN = "T;q_hPa;dp;rpm\n12000;4,0;1,6;2400\n12010;4,01;1,61;2400\n"


def test_columns_and_units_by_name(tmp_path: Path) -> None:
    choice = Choice({"time": "T", "pitot": "q_hPa", "angled": "dp"},
                    {"time": "ms", "angled": "hPa"})
    assert samples(opened(tmp_path, FOREIGN, choice)) == [[(12000, 4000, 1600),
                                                          (12010, 4010, 1610)]]


@pytest.mark.parametrize(("columns", "units", "says"), [
    ({"time": "T", "pitot": "q_hPa"}, {"time": "ms"}, "angled_pa is missing"),
    ({"time": "T", "pitot": "q_hPa", "angled": "dp"}, {"time": "ms"},
     r"'?dp'? has no unit known for angled; .*--units angled=Pa\|hPa"),
    ({"time": "T", "pitot": "q_hPa", "angled": "dp"}, {"time": "ms", "angled": "Pa",
                                                       "pitot": "Pa"},
     "names hPa, but --units .* says Pa; make them agree"),
    ({"time": "t", "pitot": "q_hPa", "angled": "dp"}, {}, "no column 't' for time; the header "
     "has 'T', 'q_hPa', 'dp', 'rpm'"),
    ({"time": "T", "pitot": "q_hPa", "angled": "q_hPa"}, {"time": "ms"}, "for two roles"),
])
def test_g7_a_foreign_header_needs_every_word(tmp_path: Path, columns: dict, units: dict,
                                              says: str) -> None:
    with pytest.raises(UsageError, match=r"f\.csv:1: .*" + says):
        opened(tmp_path, FOREIGN, Choice(columns, units))


@pytest.mark.parametrize("role", ["time", "pitot", "angled", "nz", "speed"])
def test_g7_a_column_without_unit_is_refused(tmp_path: Path, role: str) -> None:
    text = table({name.split("_")[0] if name.startswith(role) else name: cells
                  for name, cells in COLUMNS.items()})
    with pytest.raises(UsageError, match=rf"f\.csv:1: column '{role}' has no unit known for "
                       rf"{role}; .*--units {role}="):
        opened(tmp_path, text)
    unit = "s" if role == "time" else "Pa" if role in ("pitot", "angled") else "g" if (
        role == "nz") else "kt"
    assert samples(opened(tmp_path, text, Choice(units={role: unit})))[0][0] == (0, 4000, 1600)


def test_units_in_brackets(tmp_path: Path) -> None:
    text = "Time [ms],Pitot (kPa),angled[mmH2O]\n5,0.4,10\n"
    assert samples(opened(tmp_path, text)) == [[(5, 4000, 981)]]


def flight_text(pitot_unit: str, angled_unit: str, speed_unit: str = "", shift: float = 0.0,
                claimed: tuple[str, str, str] | None = None) -> str:
    """A truth flight with its pressures in these units, and calibrated airspeed as its witness.
    claimed: units in the header, where they are not the true ones."""
    flight = load("tp_stall_1g")
    pitot, angled = pressures(flight, "port-static", Probe())
    # a hundredth of a pascal past each tenth, so that no unit puts it on the edge of rounding
    pitot, angled = np.round(pitot, 1) + 0.01 + shift, np.round(angled, 1) + 0.01
    names = claimed or (pitot_unit, angled_unit, speed_unit)
    lines = [f"time_s,pitot_{names[0]},angled_{names[1]}" + (
        f",speed_{names[2].replace('/', '')}" if speed_unit else "")]
    speed = flight["kcas"] * 1852 / 3600 / {
        "": 1, "kt": 1852 / 3600, "m/s": 1, "km/h": 1 / 3.6, "mph": 0.44704}[speed_unit]
    for t, p, a, v in zip(flight["time_s"], pitot / PRESSURE[pitot_unit],
                          angled / PRESSURE[angled_unit], speed, strict=True):
        lines.append(f"{t:.3f},{p:.9g},{a:.9g}" + (f",{v:.2f}" if speed_unit else ""))
    return "\n".join(lines) + "\n"


def rows_of(folder: Path, text: str, choice: Choice | None = None) -> list:
    """All rows of a file with one session."""
    flight = opened(folder, text, choice or Choice())
    return flight.rows(flight.sessions[0]).tolist()


@pytest.mark.parametrize("unit", PRESSURE)
def test_g7_the_same_flight_in_any_unit_gives_the_same_rows(tmp_path: Path, unit: str) -> None:
    wanted = rows_of(tmp_path, flight_text("Pa", "Pa"))
    assert rows_of(tmp_path, flight_text(unit, unit)) == wanted
    assert rows_of(tmp_path, flight_text(unit, "hPa")) == wanted


@pytest.mark.parametrize("unit", ["kt", "m/s", "km/h", "mph"])
def test_g7_speed_agrees_in_its_own_unit_and_is_refused_in_any_other(tmp_path: Path,
                                                                    unit: str) -> None:
    wanted = rows_of(tmp_path, flight_text("Pa", "Pa"))
    flight = opened(tmp_path, flight_text("Pa", "Pa", unit))
    assert flight.rows(flight.sessions[0]).tolist() == wanted
    # JSBSim's calibrated airspeed is the outside fact here: impact pressure by the same formula
    assert any("the median is 1.00 of the indicated" in line for line in flight.lines())
    for other in {"kt", "m/s", "km/h", "mph"} - {unit}:
        with pytest.raises(UsageError, match=rf"f\.csv:1: speed_.*: perhaps .*--units speed={unit}"
                           ".*--believe-units"):
            opened(tmp_path, flight_text("Pa", "Pa", unit, claimed=("Pa", "Pa", other)))


@pytest.mark.parametrize(("true", "said"), list(itertools.permutations(PRESSURE, 2)))
def test_g7_both_pressures_in_one_wrong_unit_are_found_by_the_speed(tmp_path: Path, true: str,
                                                                    said: str) -> None:
    text = flight_text(true, true, "kt", claimed=(said, said, "kt"))
    with pytest.raises(UsageError, match=f"indicated airspeed .*--units pitot={true}"):
        opened(tmp_path, text)


PITOT, ANGLED = 0, 1


@pytest.mark.parametrize(("true", "said", "which"), [
    ("hPa", "Pa", PITOT), ("Pa", "hPa", PITOT), ("psi", "Pa", PITOT), ("inH2O", "Pa", PITOT),
    ("hPa", "Pa", ANGLED), ("Pa", "hPa", ANGLED), ("inH2O", "Pa", ANGLED), ("hPa", "psi", ANGLED)])
def test_g7_one_pressure_in_a_wrong_unit_is_refused(tmp_path: Path, true: str, said: str,
                                                    which: int) -> None:
    claimed = (said, true, "") if which == PITOT else (true, said, "")
    text = flight_text(true, true, claimed=claimed)
    with pytest.raises(UsageError, match=rf"f\.csv:1: .*no probe gives.*units \w+={true}"
                       ".*--believe-units"):
        opened(tmp_path, text)
    assert len(rows_of(tmp_path, text, Choice(believe_units=True))) == 2594


def test_g7_what_the_ratio_cannot_show_is_stated(tmp_path: Path) -> None:
    """hardware_notes/flight_csv.md: a factor of some ten in one column alone can hide in the
    ratio; and angled in psi called Pa leaves nothing but zeros, which is said."""
    for true, claimed in (("kPa", ("kPa", "hPa", "")), ("kPa", ("hPa", "kPa", "")),
                          ("mmH2O", ("mmH2O", "hPa", "")), ("Pa", ("Pa", "mmH2O", ""))):
        assert rows_of(tmp_path, flight_text(true, true, claimed=claimed))
    flight = opened(tmp_path, flight_text("psi", "psi", claimed=("psi", "Pa", "")))
    assert "note: angled is 0 Pa in every row: a frozen or a blocked line?" in flight.lines()


def test_g7_true_airspeed_at_height_is_told_from_a_wrong_unit(tmp_path: Path) -> None:
    lines = flight_text("Pa", "Pa", "kt").splitlines()
    lines[1:] = [f"{line.rpartition(',')[0]},{float(line.rpartition(',')[2]) * 1.25:.2f}"
                 for line in lines[1:]]
    with pytest.raises(UsageError, match="1.25 times .*true airspeed"):
        opened(tmp_path, "\n".join(lines) + "\n")


def test_g7_a_tag_that_contradicts_the_size_is_refused(tmp_path: Path) -> None:
    # the case's own numbers: q 0 to 40 called Pa at "60 kt"
    rows = "".join(f"{i / 50},{i % 40},{i % 17},60\n" for i in range(400))
    with pytest.raises(UsageError, match=r"f\.csv:1: speed_kt is .* times the indicated"):
        opened(tmp_path, "time_s,pitot_pa,angled_pa,speed_kt\n" + rows)


def said_of(folder: Path, rows: int, step_s: float, pitot: str, angled: str) -> str:
    """What is told of a flight of equal rows."""
    return "\n".join(opened(folder, "time_s,pitot_pa,angled_pa\n" + "".join(
        f"{i * step_s:.2f},{pitot},{angled}\n" for i in range(rows))).lines())


def test_g7_sizes_that_are_odd_are_said(tmp_path: Path) -> None:
    assert "pitot is past the unit's limit of 10000 Pa in most rows: is it really in Pa?" in (
        said_of(tmp_path, 60, 0.01, "40000", "16000"))
    assert "rows are 10 s apart, too far for the unit to work with: is time really in s?" in (
        said_of(tmp_path, 60, 10, "400", "160"))
    quiet = said_of(tmp_path, 60, 4.9, "10000", "160")
    assert "past the unit" not in quiet and "apart" not in quiet


def test_g7_too_little_flight_is_not_judged(tmp_path: Path) -> None:
    assert said_of(tmp_path, 49, 0.01, "1", "160")  # 49 rows in which 50 Pa are felt
    assert said_of(tmp_path, 900, 0.01, "1", "49")  # on the ground
    with pytest.raises(UsageError, match="angled is 160 times pitot"):
        said_of(tmp_path, 50, 0.01, "1", "160")
