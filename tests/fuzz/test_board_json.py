"""The board reads JSON with a reader of its own: spoiled files, in the VM and on the desk."""

import re
import subprocess
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from alula.json_records import value_of
from alula.record_payloads import SETTINGS as SETTINGS_KIND
from alula.settings import load
from host_sim.runtimes.run import find_vm, vm_environment
from tests.fuzz.seeds import CALIBRATIONS, SETTINGS
from tests.fuzz.spoil import TEXT, spoiled
from tests.fuzz.test_parsers import TIMES

IN_VM = Path(__file__).with_name("json_in_vm.py")
ZEROS = [b'{"pitot_dpa": 0, "angled_dpa": -12}']
# MicroPython reads 020 as 20. Nobody can mean anything else by it, so it may.
LEADING_ZERO = re.compile(rb"(?<![\d.])0\d")


def taken_here(kind: int, data: bytes) -> bool:
    value, problem = value_of(kind, data)
    return not problem and not (kind == SETTINGS_KIND and load(value)[1])


@settings(max_examples=8 * TIMES)
@given(st.lists(st.one_of([spoiled(seeds, TEXT) for seeds in (SETTINGS, CALIBRATIONS, ZEROS)]),
                min_size=20, max_size=60))
def test_the_board_takes_nothing_that_strict_json_refuses_and_never_raises(texts):
    with tempfile.TemporaryDirectory() as folder:
        for i, text in enumerate(texts):
            (Path(folder) / f"{i:02}").write_bytes(text[:16000])
        done = subprocess.run([find_vm(), "-X", "heapsize=8m", IN_VM, folder], check=False,
                              env=vm_environment(), capture_output=True, timeout=60)
    said = done.stdout.decode(errors="replace")
    assert done.returncode == 0, said[-300:] + done.stderr.decode(errors="replace")
    lines = said.splitlines()
    assert len(lines) == 3 * len(texts)
    for line in lines:
        kind, name = line.split(":")[0].split(" ")
        data = texts[int(name)][:16000]
        if line.endswith(": 'taken'") and not LEADING_ZERO.search(data):
            assert taken_here(int(kind), data), data
