"""Every test of tests/both runs in the real MicroPython VM, too, and not one is left out."""

import ast
import subprocess
from pathlib import Path

import pytest

from host_sim.runtimes.run import find_vm, vm_environment

HERE = Path(__file__).parent
FILES = sorted((HERE.parent / "both").glob("test_*.py"))


def names_for_pytest(path: Path) -> list[str]:
    """The test functions pytest collects from a file of plain functions."""
    return [node.name for node in ast.parse(path.read_text()).body
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")]


def run_in_vm(path: Path) -> subprocess.CompletedProcess:
    """One file in one fresh VM; a missing VM is an error, not a reason to skip."""
    command = [find_vm(), "-X", "heapsize=32m", HERE / "run_file.py", path]
    return subprocess.run(command, env=vm_environment(), capture_output=True, text=True,
                          check=False, timeout=300)


def test_there_is_something_to_run():
    assert len(FILES) >= 5


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_passes_in_the_vm(path):
    done = run_in_vm(path)
    said = done.stdout + done.stderr
    assert done.returncode == 0, said
    passed = [line.split()[0] for line in done.stdout.splitlines() if line.endswith(" ok")]
    names = names_for_pytest(path)
    assert names and len(set(names)) == len(names), "a doubled name hides a test"
    assert sorted(passed) == sorted(names), said


def test_files_hold_nothing_that_only_pytest_would_run():
    """Classes, decorators and parameters would be skipped in the VM."""
    for path in FILES:
        for node in ast.parse(path.read_text()).body:
            assert not (isinstance(node, ast.ClassDef) and node.name.startswith("Test")), path
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                assert not node.decorator_list and not node.args.args, (path, node.name)


def test_a_failing_test_is_seen(tmp_path):
    planted = tmp_path / "test_planted.py"
    planted.write_text("def test_good():\n    assert True\n\n\n"
                       "def test_bad():\n    assert 1 == 2\n")
    done = run_in_vm(planted)
    assert done.returncode == 1
    assert "test_good ok" in done.stdout and "AssertionError" in done.stdout
