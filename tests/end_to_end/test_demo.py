"""`make demo`: what the Makefile runs, with its last flight only; the others are flown elsewhere.

`tests/docs/test_runs.py` flies the same captures and the same turn for the tutorial.
"""

import re
import subprocess

from host_sim import demo
from host_sim.runtimes.paths import ROOT
from host_sim.world.scenario import list_scenarios


def test_make_demo_runs_this_module():
    made = subprocess.run(["make", "-n", "demo"], cwd=ROOT, capture_output=True, text=True,
                          check=True).stdout
    assert re.search(r"python -m host_sim\.demo$", made, re.MULTILINE)
    assert {name for name, _ in demo.FLIGHTS} <= set(list_scenarios())


def test_the_demo_leaves_what_it_names(monkeypatch, capsys, tmp_path):
    """Flash that a flight starts with, its log replayed equal, and both interpreters the same."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo, "FLIGHTS", demo.FLIGHTS[-1:])
    assert demo.main() == 0
    told = capsys.readouterr().out
    assert "traces of both interpreters: the same, byte for byte" in told
    assert re.search(r"equal: (\d+) of \1 decisions compared", told)
    for name in ("tightened-turn/picture.png", "tightened-turn/sound.wav", "sweep.wav"):
        assert (tmp_path / "out" / name).stat().st_size > 1000, name
        assert name.rpartition("/")[2] in told
