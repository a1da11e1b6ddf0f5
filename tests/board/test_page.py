"""hardware_notes/flashing.md: every command on it is one, and what it states is so."""

import re
import shlex

import pytest

from host_sim.cli import build_parser
from host_sim.runtimes.paths import ROOT

PAGE = (ROOT / "hardware_notes" / "flashing.md").read_text()
COMMANDS = sorted(set(re.findall(r"`(alula board [^`]*)`", PAGE)
                      + re.findall(r"^(alula board .*)$", PAGE, re.MULTILINE)))


def test_there_are_commands_on_the_page():
    assert len(COMMANDS) > 12


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_on_the_page_is_taken(command):
    words = shlex.split(command)[1:]
    assert build_parser().parse_args(words).board_run


def test_the_room_it_takes(firmware_image):
    """Said on the page; mend it there when the firmware has grown."""
    told = int(re.search(r"some (\d+) kB each", PAGE)[1])
    assert abs(firmware_image.bytes_on_flash(4096) / 1024 - told) < told / 10


def test_an_update_fits_beside_the_firmware_in_use(firmware_image):
    """1408 kB: what MicroPython gives files on the RP2040 board with 2 MB (from memory); 64 kB
    stay free for records (`log_store.RESERVE_BYTES`)."""
    assert 2 * firmware_image.bytes_on_flash(4096) < (1408 - 64 - 24) * 1024
