"""What fuzzers found stays found; and every target passes on good input."""

import subprocess
from pathlib import Path

import pytest

from alula.record_codec import WHOLE, decode
from host_sim.errors import UsageError
from host_sim.reading.flight_csv import open_flight
from host_sim.reading.unit_files import read_calibration, read_settings
from host_sim.runtimes.run import find_vm, vm_environment
from tests.both.frozen_records import RECORDS
from tests.fuzz.found import BOARD_JSON, FOUND
from tests.fuzz.memory_file import MemoryFile
from tests.fuzz.seeds import CALIBRATIONS, FLIGHTS, SEEDS, SETTINGS
from tests.fuzz.targets import TARGETS, framed

IN_VM = Path(__file__).with_name("json_in_vm.py")


@pytest.mark.parametrize("at", range(len(FOUND)))
def test_what_was_found_stays_found(at):
    target, data = FOUND[at]
    TARGETS[target](data)


@pytest.mark.parametrize("name", sorted(SEEDS))
def test_good_input_keeps_every_promise(name):
    for seed in SEEDS[name]:
        TARGETS[name](seed)


def test_good_input_is_taken():
    """Else a fuzzer would only ever see refusals."""
    for kind, _, content, _ in RECORDS:
        assert decode(kind, content)[0] == WHOLE
    for text in SETTINGS:
        assert isinstance(read_settings(MemoryFile("s", text)), dict)
    for text in CALIBRATIONS:
        plumbing = "opposed" if b"opposed" in text else "port-static"
        assert read_calibration(MemoryFile("c", text), plumbing)
    for text in FLIGHTS:
        assert open_flight(MemoryFile("f", text)).survey.rows


def test_a_name_that_stands_twice_is_refused_with_its_line():
    file = MemoryFile("s.json", b'{"lead_ms": 50,\n"window_ms": 120,\n"window_ms": 200}')
    with pytest.raises(UsageError, match=r"^s\.json:2: settings field window_ms stands twice"):
        read_settings(file)


def test_settings_are_taken_only_as_they_are_written():
    """hardware_notes/records.md: sorted by name, a line each; anything else is damaged."""
    assert decode(1, framed(1, 1, b'{\n"a": 1,\n"b": 2\n}\n'))[2] == {"a": 1, "b": 2}
    for text in (b'{"a": 1, "b": 2}', b'{\n"b": 2,\n"a": 1\n}\n', b'{\n"a": 1,\n"a": 1\n}\n',
                 b'{\n"a": 1.0\n}\n', b'{\n"a": true\n}\n', b'{\n"a": 01\n}\n'):
        assert decode(1, framed(1, 1, text))[0] != WHOLE, text


def test_no_record_is_longer_than_the_page_says():
    """hardware_notes/records.md: 0 to 4000 bytes of payload."""
    lines = ",\n".join('"%s": 1' % ("%03d" % i * 5) for i in range(180))
    for fill, whole in ((4000, True), (4001, False)):
        text = "{\n" + lines + "\n}\n"
        name = "z" * (fill - len(text) - len(',\n"": 1'))
        text = "{\n" + lines + ',\n"' + name + '": 1\n}\n'
        assert len(text) == fill
        assert (decode(1, framed(1, 1, text.encode()))[0] == WHOLE) == whole


def test_the_board_refuses_in_words_what_its_own_json_reader_would_take(tmp_path):
    """In the VM, as a stock reader cannot show it; with little memory, as on the board."""
    for i, text in enumerate(BOARD_JSON):
        (tmp_path / f"{i:02}").write_bytes(text)
    command = [find_vm(), "-X", "heapsize=400k", IN_VM, tmp_path]
    done = subprocess.run(command, env=vm_environment(), capture_output=True, text=True,
                          check=False, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) == 3 * len(BOARD_JSON)
    assert all("JSON" in line for line in lines), done.stdout


def test_the_board_takes_good_json(tmp_path):
    texts = {"1": SETTINGS, "3": CALIBRATIONS,
             "2": [b'{"pitot_dpa": 0,\r\n\t"angled_dpa": -12}']}
    for kind, seeds in texts.items():
        for i, text in enumerate(seeds):
            (tmp_path / f"{kind}-{i}").write_bytes(text)
    done = subprocess.run([find_vm(), IN_VM, tmp_path], env=vm_environment(),
                          capture_output=True, text=True, check=True, timeout=60)
    taken = [line for line in done.stdout.splitlines() if line.endswith(": 'taken'")]
    assert {line.split(":")[0] for line in taken} >= {
        f"{kind} {kind}-{i}" for kind, seeds in texts.items() for i in range(len(seeds))}
