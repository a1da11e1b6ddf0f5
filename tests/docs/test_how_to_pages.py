"""The how-to pages against the code they describe."""

import ast
import math
import re

import numpy as np
import pytest
from pages import text_of

from alula.figures import FIGURES
from alula.settings import TABLE
from alula.states import CALM, PRESSING, STALLING
from host_sim.listen import sweep
from host_sim.output.trace import column
from host_sim.runtimes.paths import FIRMWARE
from host_sim.runtimes.run import run_stream

ROWS = {row[0]: row for row in TABLE}


def public_names(file: str, kind: str) -> set[str]:
    """Attributes set on self in any method, class attributes and methods, without a leading _."""
    tree = ast.parse((FIRMWARE / file).read_text(encoding="utf-8"))
    (found,) = [node for node in tree.body if isinstance(node, ast.ClassDef) and node.name == kind]
    names = {node.name for node in found.body if isinstance(node, ast.FunctionDef)}
    names |= {target.id for node in found.body if isinstance(node, ast.Assign)
              for target in node.targets if isinstance(target, ast.Name)}
    names |= {node.attr for node in ast.walk(found) if isinstance(node, ast.Attribute)
              and isinstance(node.ctx, ast.Store) and isinstance(node.value, ast.Name)
              and node.value.id == "self"}
    return {name for name in names if not name.startswith("_")}


@pytest.mark.parametrize("file, kind", [("boards/rpi_pico.py", "Board"),
                                        ("boards/esp32.py", "Board"),
                                        ("boards/plain.py", "PlainBoard")])
def test_every_attribute_of_a_board_is_on_the_page(file, kind):
    page = text_of("add_a_board")
    assert not {name for name in public_names(file, kind) if not re.search(rf"`{name}[`(]", page)}


@pytest.mark.parametrize("file, kind", [("drivers/pressure_ms5525.py", "PressureMs5525"),
                                        ("drivers/pressure_14bit.py", "Pressure14Bit")])
def test_every_attribute_that_drivers_share_is_on_the_page(file, kind):
    shared = public_names("drivers/pressure_ms5525.py", "PressureMs5525") & public_names(
        "drivers/pressure_14bit.py", "Pressure14Bit")
    assert shared <= public_names(file, kind) and "status" in shared
    assert not {name for name in shared if not re.search(rf"`{name}[`(]", text_of("add_a_sensor"))}


def defaults(row: str) -> list[str]:
    """Defaults of the settings named in a table row, as the page writes their numbers."""
    names = re.findall(r"`(\w+)`", row)
    return [str(ROWS[name][1]) for name in names if name in ROWS]


@pytest.mark.parametrize("name", ["pressing_pm", "calm_sound", "pitch_low_hz", "urgency_pm",
                                  "edge_ms"])
def test_defaults_on_the_page_of_sounds(name):
    row = next(line for line in text_of("change_a_sound").splitlines() if f"| `{name}`" in line)
    cells = row.split("|")
    assert all(value in cells[3] for value in defaults(cells[2])), row


def test_rates_and_repeats_on_the_page_of_sounds():
    """Those that the page writes in other units than the table."""
    page = text_of("change_a_sound")
    low, high = ROWS["pulse_low_millihz"][1], ROWS["pulse_high_millihz"][1]
    assert f"{low / 1000:g} to {high / 1000:g} a second" in page
    assert "{:g} s, {} times, then {:g} s".format(
        ROWS["fault_every_ms"][1] / 1000, ROWS["fault_repeats"][1],
        ROWS["fault_reminder_ms"][1] / 1000) in page


def test_numbers_of_the_explanation_are_the_defaults():
    page = text_of("why")
    low, high = ROWS["pulse_low_millihz"][1], ROWS["pulse_high_millihz"][1]
    for told in (f"{ROWS['pitch_low_hz'][1]} to {ROWS['warble_high_hz'][1]} Hz for warnings",
                 f"pulses from {low / 1000:g} to {high / 1000:g} a second",
                 f"nothing faster than {high / 1000:g} a second",
                 f"edges of {ROWS['edge_ms'][1]} ms", f"the last {ROWS['window_ms'][1]} ms",
                 f"exponent {ROWS['urgency_pm'][1] / 1000:g} ",
                 f"pressing from {(1000 / ROWS['pressing_pm'][1]) ** 0.5:.2f} Vs"):
        assert told in page, told
    assert ROWS["hold_ms"][1] == 10000 and "outlives them for ten seconds" in page


def test_bank_angles_of_the_explanation():
    """Stalling speed in a level turn is 1/sqrt(cos(bank)) of that in level flight."""
    page = text_of("why")
    for bank_deg in (45, 60):
        more = 100 * (math.cos(math.radians(bank_deg)) ** -0.5 - 1)
        assert re.search(rf"{bank_deg} degrees (it is )?{more:.0f} %", page)


def test_the_build_guide_counts_what_has_no_default():
    assert len([row for row in TABLE if row[1] is None]) == 7
    assert "Seven names have no default" in text_of("build")


def test_the_sweep_of_the_tutorial_sounds_as_its_list_says():
    """Start figure, three level notes, then nothing until the soft tick."""
    out = run_stream(sweep({}, 20))
    state, hz, level = (column(out, name) for name in ("state", "voice_hz", "voice_level"))
    quiet = slice(0, int(np.flatnonzero(state)[0]))
    heard = hz[quiet][level[quiet] > 0]
    notes = heard[np.r_[True, np.diff(heard) != 0]].tolist()
    assert notes == [600, 800, 1000, 750]
    assert np.sum(np.diff((level[quiet] * (hz[quiet] == 750)) > 0)) == 6  # three begin and end
    assert level[quiet][-50:].max() == 0
    assert level[state == CALM].max() < level[state == PRESSING].max()
    assert level[state == STALLING].min() > 0


def test_the_turn_of_the_tutorial_goes_as_its_text_says():
    """Flaps-up curve only: no stalling sound, and pressing later than with the right curve."""
    early, late = text_of("first_hour").split("$ alula fly tightened-turn --flash my-unit")[1:]
    sections = [part.partition("<!-- run ends -->")[0] for part in (early, late)]
    begun = [float(re.search(r"([\d.]+)  pressing", part)[1]) for part in sections]
    assert "stalling" not in sections[0] and "stalling" in sections[1]
    assert begun[1] < begun[0]


def test_no_setting_switches_a_warning_off():
    """The page says so: no words to choose from but for the calm tick, and no level at all."""
    words = {name for name, row in ROWS.items() if isinstance(row[4], tuple) and "off" in row[4]}
    assert words == {"calm_sound"}
    assert not {name for name in ROWS if "level" in name or "volume" in name or "mute" in name}


def test_figures_are_pairs_of_pitch_and_length():
    """As the page has it: pitch in Hz and length in ms, in turn; pitch 0 is a rest."""
    for figure in FIGURES:
        assert len(figure) % 2 == 0
        assert all(pitch == 0 or 300 <= pitch <= 3000 for pitch in figure[::2])
        assert all(length > 0 for length in figure[1::2])
