"""Scenario files: what is refused, and that each refusal says where and what to do."""

from pathlib import Path

import numpy as np
import pytest

from host_sim.errors import UsageError
from host_sim.world.flight import fly
from host_sim.world.scenario import list_scenarios, load_scenario

GOOD = """
title = "Short hop"
setting = "An invented field."
[air]
turbulence = "light"
[[phases]]
do = "park"
seconds = 6
"""
FLYING = """
[[phases]]
do = "take_off"
speed_kt = 65
[[phases]]
do = "climb"
speed_kt = 70
until_height_m = 60
"""


def written(folder: Path, text: str) -> Path:
    """A scenario file with this text."""
    path = folder / "hop.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", list_scenarios())
def test_shipped_scenarios_load(name: str) -> None:
    scenario = load_scenario(name)
    assert scenario.name == name
    assert scenario.title
    assert scenario.field_name == "Wren Field"


def test_a_path_loads_too_and_defaults_are_filled_in(tmp_path: Path) -> None:
    scenario = load_scenario(written(tmp_path, GOOD))
    assert scenario.title == "Short hop"
    assert scenario.probe.angle_deg == 45.0
    assert scenario.angled_sensor.name == "angled"


REFUSED = [
    (GOOD.replace("turbulence", "turbulance"), "turbulance", "known are"),
    (GOOD.replace('"light"', '"heavy"'), "heavy", "use one of none, light"),
    (GOOD.replace('title = "Short hop"', ""), "title", "add title"),
    (GOOD.replace("seconds = 6", "seconds = 3"), "phase 1", "6 or more"),
    (GOOD.replace("seconds = 6", 'seconds = "6"'), "seconds", "plain number"),
    (GOOD.replace("seconds = 6", "seconds = nan"), "seconds", "plain number"),
    (GOOD.replace("seconds = 6", "seconds = true"), "seconds", "plain number"),
    (GOOD.replace('"park"', '"hover"'), "hover", "use one of park"),
    (GOOD.replace("seconds = 6", "seconds = 6 7"), "TOML", "correct that line"),
    (GOOD.split("[[phases]]")[0], "phase 1", "park"),
    (GOOD + '[[phases]]\ndo = "climb"\nspeed_kt = 60\n', "climb", "no end"),
    (GOOD + '[[phases]]\ndo = "climb"\nseconds = 60\n', "speed_kt", "missing"),
    (GOOD + "[probe]\nangle_deg = 90\n", "angle_deg", "20 to 70"),
    (GOOD + "[sensors.pitot]\nrange = 3\n", "range", "known are"),
    (GOOD + "[sensors.third]\nrange_pa = 300\n", "third", "pitot, angled"),
    (GOOD + '[sensors.pitot]\noutput = "Z"\n', "output", "A, B, C, F, 24-bit"),
    (GOOD + "[lines]\npitot = 3\n", "pitot", "table"),
    ("phases = 3\n" + GOOD.split("[[phases]]")[0], "phases", "list of tables"),
    (GOOD + "[[air.gusts]]\nat_s = 3\nup_ms = 2\n", "length_m", "missing"),
]


@pytest.mark.parametrize(("text", "key", "remedy"), REFUSED)
def test_refusals_name_file_key_and_remedy(
    tmp_path: Path, text: str, key: str, remedy: str
) -> None:
    with pytest.raises(UsageError) as caught:
        load_scenario(written(tmp_path, text))
    message = str(caught.value)
    assert "hop.toml" in message
    assert key in message
    assert remedy in message
    assert "\n" not in message


def test_a_missing_file_lists_what_there_is() -> None:
    with pytest.raises(UsageError, match=r"nowhere\.toml.*tightened-turn"):
        load_scenario("nowhere.toml")


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "hop.toml"
    path.write_bytes(b"\xff\xfe\x00title")
    with pytest.raises(UsageError, match=r"hop\.toml.*TOML text file"):
        load_scenario(path)


def test_a_phase_that_never_ends_is_named(tmp_path: Path) -> None:
    text = GOOD + FLYING + '[[phases]]\ndo = "cruise"\nspeed_kt = 70\nuntil_height_m = 900\n'
    with pytest.raises(UsageError, match=r"hop\.toml: phase 4.*seconds"):
        fly(load_scenario(written(tmp_path, text)))


PULLING = """
[[phases]]
do = "cruise"
speed_kt = 65
seconds = 8
[[phases]]
do = "pull_up"
rate_deg_s = 8
load_factor = 4
until_past_stall_deg = 0.5
[[phases]]
do = "recover"
speed_kt = 60
"""


def test_pull_up_into_the_stall_at_its_rate(tmp_path: Path) -> None:
    text = GOOD.replace("light", "none") + FLYING + PULLING
    flight = fly(load_scenario(written(tmp_path, text)))
    assert len(flight.stalls) == 1
    start = flight.phase.index("pull_up")
    middle = slice(start + 80, round(flight.stalls[0] * 100))
    rate = np.polyfit(flight.time_s[middle], flight.alpha_deg[middle], 1)[0]
    assert rate == pytest.approx(8.0, abs=1.2)
    assert flight.nz_g[start:].max() > 1.6


def test_slip_reaches_the_probe(tmp_path: Path) -> None:
    text = (
        GOOD.replace("light", "none")
        + FLYING
        + """
[[phases]]
do = "cruise"
speed_kt = 70
seconds = 8
[[phases]]
do = "cruise"
label = "slip"
speed_kt = 70
slip_deg = 8
seconds = 8
"""
    )
    flight = fly(load_scenario(written(tmp_path, text)))
    assert flight.beta_deg[-1] == pytest.approx(8.0, abs=0.1)
    before = flight.phase.index("slip") - 1
    straight = flight.angled_pa[before] / flight.pitot_pa[before]
    assert flight.angled_pa[-1] / flight.pitot_pa[-1] < straight - 0.015


def test_a_probe_out_on_the_wing_feels_the_roll(tmp_path: Path) -> None:
    # p y/V: 20 deg/s three metres out at 33 m/s is 1.8 degrees (computed)
    text = (
        GOOD.replace("light", "none")
        + FLYING
        + """
[[phases]]
do = "turn"
speed_kt = 64
bank_deg = 45
seconds = 3
"""
    )
    plain = fly(load_scenario(written(tmp_path, text)))
    out = fly(load_scenario(written(tmp_path, text + "[probe]\noutboard_m = 3\n")))
    gap = (out.angled_pa - plain.angled_pa) / np.maximum(plain.pitot_pa, 100.0)
    slope = 2.1 * np.radians(1.0)  # near 45 degrees between port and flow
    assert gap[plain.phase.index("turn") :].max() / slope == pytest.approx(1.8, abs=0.25)
    assert np.abs(gap[: plain.phase.index("climb") - 300]).max() < 0.01
