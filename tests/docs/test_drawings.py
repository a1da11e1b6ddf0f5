"""The drawings: what is committed is what the code draws, and its pins are the board's."""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from pages import NOTES, text_of

from host_sim.notes.board_pins import BOARD, ESP32, PIN_OF_GP, SUPPLY_PINS, USES, constants
from host_sim.runtimes.paths import ROOT

FOLDER = NOTES / "drawings"
SVG = "{http://www.w3.org/2000/svg}"
NAMES = sorted(path.name for path in FOLDER.glob("*.svg"))
WIDE = 0.52  # a letter's mean width over its height in a plain sans serif (measured: 0.49)


def words(name):
    """[(x0, y0, x1, y1, text)] of each line of text in a drawing, points, roughly."""
    boxes = []
    for text in ElementTree.parse(FOLDER / name).iter(SVG + "text"):
        size = float(text.get("font-size"))
        y = float(text.get("y")) - size
        for line in text.iter(SVG + "tspan"):
            y += float(line.get("dy"))
            width = WIDE * size * len(line.text)
            x = float(line.get("x")) - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[
                text.get("text-anchor")]
            boxes.append((x, y, x + width, y + 0.9 * size, line.text))
    return boxes


def test_committed_drawings_are_what_the_code_draws():
    pytest.importorskip("schemdraw", reason="the extra [drawings] is not installed")
    from host_sim.drawings.__main__ import drawings
    made = drawings()
    assert sorted(made) == NAMES
    for name, text in made.items():
        assert (FOLDER / name).read_text() == text, f"{name}: run make drawings"


def test_without_the_package_the_command_says_what_to_install(monkeypatch, capsys):
    import builtins

    from host_sim.drawings import __main__ as command
    real = builtins.__import__

    def without(name, *rest, **more):
        if name.split(".")[0] == "schemdraw" or name == "host_sim.drawings":
            raise ImportError(name)
        return real(name, *rest, **more)
    monkeypatch.setattr(builtins, "__import__", without)
    assert command.main() == 2
    assert "[drawings]" in capsys.readouterr().err


@pytest.mark.parametrize("name", NAMES)
def test_each_drawing_is_shown_in_a_page(name):
    pages = " ".join(path.read_text() for path in NOTES.glob("*.md"))
    assert f"](drawings/{name})" in pages


@pytest.mark.parametrize("name", NAMES)
def test_no_words_lie_on_each_other_or_off_the_sheet(name):
    root = ElementTree.parse(FOLDER / name).getroot()
    left, top, wide, high = (float(x) for x in root.get("viewBox").split())
    boxes = words(name)
    assert boxes
    for i, (x0, y0, x1, y1, text) in enumerate(boxes):
        assert left <= x0 and x1 <= left + wide, text
        assert top <= y0 and y1 <= top + high, text
        for a0, b0, a1, b1, other in boxes[i + 1:]:
            apart = x1 <= a0 or a1 <= x0 or y1 <= b0 or b1 <= y0
            assert apart, f"'{text}' and '{other}'"


def test_pins_in_the_drawing_are_the_boards():
    """Parsed here from the board file's text, by another way than the drawing does."""
    source = BOARD.read_text()
    drawn = {line[4] for line in words("wiring.svg")}
    for use in ("PITOT_SDA", "PITOT_SCL", "ANGLED_SDA", "ANGLED_SCL", "TONE", "LAMP", "BUTTON"):
        gp = int(re.search(rf"^{use} = const\((\d+)\)", source, re.MULTILINE)[1])
        what = USES[use][0].split(",")[0]
        assert f"{what} GP{gp} ({PIN_OF_GP[gp]})" in drawn, use
    flaps = re.search(r"^FLAPS = \(([\d, ]+)\)", source, re.MULTILINE)[1]
    for i, gp in enumerate(int(word) for word in flaps.split(",")):
        assert f"flap {i + 1} GP{gp} ({PIN_OF_GP[gp]})" in drawn
    for name, pin in SUPPLY_PINS.items():
        assert f"{name} ({pin})" in drawn


def test_pins_of_the_second_board_are_its_own():
    """Its file's own words name each GPIO; they were written down apart from its constants."""
    told = ESP32.read_text().split('"""')[1].partition("Left alone")[0]
    named = {int(gpio) for gpio in re.findall(r"GPIO(\d+)", told)}
    pins = constants(ESP32.read_text())
    assert named == set(pins.values()) and len(pins) == len(USES)
    drawn = {line[4] for line in words("wiring_esp32.svg")}
    page = text_of("wiring")
    for use, gpio in pins.items():
        assert f"{USES[use][0].split(',')[0]} GPIO{gpio}" in drawn
        assert f"| {gpio} | {USES[use][0]} | {USES[use][1]} |" in page


def test_pins_in_the_tables_and_other_drawings_are_the_boards():
    page = text_of("wiring")
    for use, gp in constants().items():
        assert f"| {PIN_OF_GP[gp]} | GP{gp} | {USES[use][0]} |" in page
    tone = f"GP{constants()['TONE']} ({PIN_OF_GP[constants()['TONE']]})"
    assert [line[4] for line in words("audio.svg")].count(tone) == 2
    assert f"VSYS ({SUPPLY_PINS['VSYS']})" in [line[4] for line in words("power.svg")]


def test_pin_numbers_agree_with_the_board_files_own_words():
    """Its docstring names pins as GP4 (6); they were written down apart from our table."""
    docstring = BOARD.read_text().split('"""')[1]
    named = {int(gp): int(pin) for gp, pin in re.findall(r"GP(\d+) \((\d+)\)", docstring)}
    assert len(named) >= len(USES)
    for gp, pin in named.items():
        assert PIN_OF_GP[gp] == pin


def test_ground_pins_are_every_fifth():
    """Pinout card of the Raspberry Pi Pico: ground at 3, 8, 13 ... 38, so no GP is there."""
    assert not set(PIN_OF_GP.values()) & set(range(3, 41, 5))
    assert len(set(PIN_OF_GP.values())) == len(PIN_OF_GP) == 26  # GPIO pins: product brief
    assert SUPPLY_PINS["GND"] in range(3, 41, 5)


def test_a_moved_pin_moves_in_the_table():
    text = BOARD.read_text().replace("TONE = const(15)", "TONE = const(2)")
    assert constants(text)["TONE"] == 2


def test_a_pin_that_the_board_no_longer_names_is_not_passed_over():
    with pytest.raises(KeyError):
        constants(BOARD.read_text().replace("LAMP = const", "LIGHT = const"))


def test_the_probe_drawing_has_the_sizes_of_the_page():
    drawn = " ".join(line[4] for line in words("probe.svg"))
    page = text_of("probe")
    for size in ("16 mm", "2 mm", "0.6 mm", "45 deg"):
        assert size in drawn and size in page


def test_values_in_the_drawings_are_those_of_the_pages():
    audio = {line[4] for line in words("audio.svg")}
    assert {"1 k", "100 n", "2.2 k", "volume 10 k"} <= audio
    for value in ("1 kOhm and 100 nF", "2.2 kOhm", "600 ohm"):
        assert value in text_of("audio")
    assert "fuse 1 A" in {line[4] for line in words("power.svg")} and "1 A" in text_of("power")
    assert (ROOT / "Makefile").read_text().count("host_sim.drawings") == 1
