"""The compiled firmware, and the list for an image: nothing left out, and it loads."""

import subprocess
from pathlib import Path

import pytest

from host_sim.compile_mpy import (
    ARCHITECTURES,
    compile_firmware,
    firmware_files,
    head_problem,
)
from host_sim.errors import UsageError
from host_sim.runtimes.paths import FIRMWARE
from host_sim.runtimes.run import find_vm, vm_environment

NATIVE = {str(name) for name in firmware_files()
          if "@micropython.native" in (FIRMWARE / name).read_text()}


@pytest.mark.parametrize("arch", ARCHITECTURES)
def test_every_file_compiles_for_the_board(arch: str, tmp_path: Path) -> None:
    sizes = compile_firmware(arch, tmp_path)
    assert set(sizes) == {str(name) for name in firmware_files()}
    for name, size in sizes.items():
        data = (tmp_path / name).with_suffix(".mpy").read_bytes()
        assert len(data) == size and head_problem(data, arch) == ""
        # native code is in the files that ask for it, and is this architecture's
        other = "xtensawin" if arch == "armv6m" else "armv6m"
        assert (head_problem(data, other) != "") is (name in NATIVE), name


def test_heads_that_no_board_can_load_are_named() -> None:
    good = b"M\x06\x13\x1f"  # armv6m, as the compiler of MicroPython 1.28 wrote it
    assert head_problem(good, "armv6m") == ""
    for data, word in ((b"", "no .mpy"), (b"M\x06\x13", "no .mpy"), (b"X" + good[1:], "no .mpy"),
                       (b"M\x05\x13\x1f", "version 5"), (b"M\x06\x0b\x1f", "architecture 2"),
                       (b"M\x06\x13\x3f", "63 bits")):
        assert word in head_problem(data, "armv6m"), data


def test_a_file_that_does_not_compile_is_named(tmp_path: Path, monkeypatch) -> None:
    (tmp_path / "wrong.py").write_text("def (:\n")
    monkeypatch.setattr("host_sim.compile_mpy.FIRMWARE", tmp_path)
    with pytest.raises(UsageError, match="wrong.py"):
        compile_firmware("armv6m", tmp_path / "out")


def test_the_compiled_files_run_in_the_vm(tmp_path: Path) -> None:
    """The same files for the machine of the desk, without any source beside them: everything that
    needs no pins is imported, and a unit is made and ticked."""
    compile_firmware("x64", tmp_path)
    rooms = [".".join(name.with_suffix("").parts) for name in firmware_files()
             if name.parts[0] != "boards" or name.name in ("plain.py", "choice.py")]
    rooms = [room.removesuffix(".__init__") for room in rooms]
    script = tmp_path / "try_all.py"
    script.write_text("\n".join(f"import {room}" for room in rooms) + """
from alula.sample import Sample
from assembly import make_unit
unit, settings, remarks = make_unit({}, None, None)
unit.tick(0, Sample())
print("ran", len(remarks) > 0, assembly.__file__)
""")
    environment = {**vm_environment(), "MICROPYPATH": str(tmp_path)}
    done = subprocess.run([find_vm(), script], env=environment, capture_output=True, text=True,
                          check=False, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.startswith("ran True") and ".mpy" in done.stdout


def test_the_manifest_covers_every_file() -> None:
    """Run with stand-ins for the functions that the build of an image gives it (MicroPython
    documentation, "MicroPython manifest files"); `package` takes a folder with what is below."""
    covered, included = [], []

    def package(name: str, opt: int) -> None:
        found = sorted((FIRMWARE / name).rglob("*.py"))
        assert (FIRMWARE / name / "__init__.py") in found and opt == 2
        covered.extend(path.relative_to(FIRMWARE) for path in found)

    def module(name: str, opt: int) -> None:
        assert (FIRMWARE / name).is_file() and opt == 2
        covered.append(Path(name))

    functions = {"package": package, "module": module, "include": included.append}
    exec(compile((FIRMWARE / "manifest.py").read_text(), "manifest.py", "exec"), functions)
    assert sorted(covered) == sorted(firmware_files())
    assert len(covered) == len(set(covered))
    assert included == ["$(PORT_DIR)/boards/manifest.py"]  # the port's own boot is among it


def test_a_board_gets_no_manifest() -> None:
    assert Path("manifest.py") not in firmware_files() and Path("main.py") in firmware_files()
