"""`alula fly` with the sensors that a scenario names: the 24-bit family, or none that would do."""

import re
from pathlib import Path

import pytest

from host_sim.runtimes.paths import ROOT
from tests.end_to_end.command import Done, alula, refused

TURN = (ROOT / "host_sim/scenarios/stall-straight.toml").read_text()


def scenario(folder: Path, **sensors: str) -> str:
    """The straight stall with other values for both sensors."""
    text = TURN
    for key, value in sensors.items():
        text, count = re.subn(rf"^{key} = .*$", f"{key} = {value}", text, flags=re.MULTILINE)
        assert count == 2
    (folder / "mine.toml").write_text(text)
    return "mine.toml"


def states(done: Done) -> list[str]:
    """The states in the order in which they begin."""
    return re.findall(r"^ +\d+\.\d+  (\w+) ", done.out, re.MULTILINE)


def test_the_24_bit_family_flies_and_says_the_same(tmp_path: Path) -> None:
    mine = scenario(tmp_path, output='"24-bit"', noise_pa="0.3")
    assert alula(tmp_path, "fly", mine, "--flash", "unit", "--out", "a").code == 0
    plain = alula(tmp_path, "fly", mine, "--out", "b")
    other = alula(tmp_path, "fly", mine, "--out", "c", "--runtime", "micropython")
    assert (tmp_path / "b/trace.csv").read_bytes() == (tmp_path / "c/trace.csv").read_bytes()
    usual = alula(tmp_path, "fly", "stall-straight", "--out", "d")
    assert "stalling" in states(plain)
    assert states(plain) == states(other) == states(usual)
    again = alula(tmp_path, "replay", "unit/00001-000.log", "--no-picture")
    assert again.code == 0 and "equal:" in again.out


@pytest.mark.parametrize(("sensors", "words", "says"), [
    ({"range_pa": "15000"}, (), ("mine.toml", "dpa must be", "100000")),
    ({"output": '"24-bit"'}, ("--fault", "sun@20"), ("sun@20", "14-bit")),
])
def test_what_no_unit_would_take_is_refused_in_one_line(tmp_path: Path, sensors: dict,
                                                        words: tuple, says: tuple) -> None:
    refused(tmp_path, "fly", scenario(tmp_path, **sensors), *words, says=says)
