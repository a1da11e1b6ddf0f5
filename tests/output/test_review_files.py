"""What the pages are made from goes into the package, too."""

import tomllib
from pathlib import Path

from host_sim.runtimes.paths import ROOT

OUTPUT = ROOT / "host_sim" / "output"


def test_every_file_that_is_not_python_is_packed() -> None:
    table = tomllib.loads((ROOT / "pyproject.toml").read_text())
    globs = table["tool"]["setuptools"]["package-data"]["host_sim.output"]
    packed = {path for glob in globs for path in OUTPUT.glob(glob)}
    there = {path for path in OUTPUT.rglob("*")
             if path.is_file() and path.suffix != ".py" and "__pycache__" not in path.parts}
    assert there and there <= packed


def test_bundled_library_is_what_its_page_says() -> None:
    vendor: Path = OUTPUT / "vendor"
    assert "v1.6.32" in (vendor / "uPlot.iife.min.js").read_text()[:80]
    assert "uPlot 1.6.32" in (vendor / "README.md").read_text()
    assert "Permission is hereby granted" in (vendor / "uPlot-LICENSE.txt").read_text()
