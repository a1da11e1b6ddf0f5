"""`alula board backup` and `restore`: every record of a unit, whole, with a manifest."""

import argparse
import datetime
import hashlib
import json
import os
import shutil
import tempfile
from pathlib import Path

from host_sim.board.boards import machine_of
from host_sim.board.ports import choose_port
from host_sim.board.records import BoardRecords, cut_off, record_names
from host_sim.board.session import leave, maintenance
from host_sim.board.show import confirm, show, unit_line
from host_sim.errors import NoResult, UsageError
from host_sim.output.progress import Progress
from host_sim.reading.json_file import read_json
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.record_payloads import (  # noqa: E402
    CALIBRATION,
    NAMES,
    SETTINGS,
    STARTS,
    STOP,
)
from alula.settings import load  # noqa: E402
from alula.vault import KINDS, Vault, fingerprint  # noqa: E402
from drivers.flash_files import FlashFiles  # noqa: E402

OF_THE_BOARD = (STARTS, STOP)  # they tell of one board, and are not put on another
MANIFEST = "manifest.json"
FORMAT = 1


def backup(arguments: argparse.Namespace) -> None:
    """All records into a new folder; it appears whole or not at all."""
    folder: Path = arguments.folder
    if folder.exists():
        raise UsageError(f"{folder}: is there already; name a new folder")
    port = choose_port(arguments.port)
    with maintenance(port, arguments.interrupt) as repl:
        machine = machine_of(repl)
        store = BoardRecords(repl)
        names = [name for name in record_names() if name in store.names()]
        with Progress("reading", len(names)) as bar:
            files = {}
            for name in names:
                files[name] = store.read(name)[0]
                bar.to(len(files))
        marks, left = fingerprints(Vault(store)), store.left_over()
        status = leave(repl)
    if not files:
        raise NoResult(f"{port.name}: no record is stored on this board; nothing to back up")
    manifest = {"format": FORMAT, "made": datetime.date.today().isoformat(),
                "firmware": status.get("firmware"), "board": status.get("board"),
                "micropython": machine.version, "machine": machine.machine,
                "fingerprints": marks,
                "files": {name: {"bytes": len(data), "sha256": _digest(data)}
                          for name, data in files.items()}}
    _write_folder(folder, files, manifest)
    half = [line + ". What was backed up is old in part and new in part: finish that first, and "
            "back up again" for line in cut_off(left)]
    show(arguments, {"folder": str(folder), **manifest, "left_over": left, "status": status},
         [*half, f"{folder}: {len(files)} records, verified; {', '.join(files)}",
          "Keep it where the unit is not.", unit_line(status)])


def restore(arguments: argparse.Namespace) -> None:
    """The newest whole record of each kind of a backup, stored as the unit stores it."""
    folder: Path = arguments.folder
    manifest = read_backup(folder)
    values = _values(folder)
    port = choose_port(arguments.port)
    with maintenance(port, arguments.interrupt) as repl:
        store = BoardRecords(repl)
        vault, left = Vault(store), store.left_over()
        _refuse_other_sensors(arguments, manifest["fingerprints"], fingerprints(vault))
        changed = _stage(vault, values)
        kept = [NAMES[kind] for kind in KINDS
                if kind not in values and kind not in OF_THE_BOARD
                and vault.load(kind)[0] is not None]
        if changed and not confirm(arguments, f"store {', '.join(changed)} on the unit, in place "
                                   "of what is there?"):
            leave(repl)
            raise NoResult("nothing was stored")
        store.tidy()
        store.commit()
        status = leave(repl)
    lines = [line + "; now all of it is" for line in cut_off(left)]
    lines += [f"restored: {', '.join(changed) or 'nothing; the unit has all of it already'}"]
    lines += [f"not in the backup, and left on the unit: {', '.join(kept)}"] if kept else []
    show(arguments, {"restored": changed, "kept": kept, "left_over": left, "status": status},
         [*lines, "Do the ground checks before the next flight.", unit_line(status)])


def fingerprints(vault: Vault) -> dict:
    """For which sensors and plumbing settings and calibration are; None where not known."""
    settings, calibration = vault.load(SETTINGS)[0], vault.load(CALIBRATION)[0]
    checked, problems = load({} if settings is None else settings)
    known = settings is not None and not problems
    return {"settings": fingerprint(checked) if known else None,
            "calibration": None if calibration is None else calibration["fingerprint"]}


def read_backup(folder: Path) -> dict:
    """The manifest of a backup whose every file is as it was written; UsageError otherwise."""
    path = folder / MANIFEST
    if not path.is_file():
        raise UsageError(f"{folder}: is no backup (there is no {MANIFEST} in it)")
    manifest = read_json(path, "backup")
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise UsageError(f"{path}:1: is not a backup of format {FORMAT}")
    files, marks = manifest.get("files"), manifest.get("fingerprints")
    if not isinstance(files, dict) or not isinstance(marks, dict):
        raise UsageError(f"{path}:1: lacks files or fingerprints; use another backup")
    for name, facts in files.items():
        if name not in record_names() or not isinstance(facts, dict):
            raise UsageError(f"{path}: {name!r} is not a record of a unit; use another backup")
        file = folder / name
        if not file.is_file() or _digest(file.read_bytes()) != facts.get("sha256"):
            raise UsageError(f"{file}: is missing or not as it was backed up (SHA-256); nothing "
                             "was restored; use another backup")
    return manifest


def _values(folder: Path) -> dict:
    """The value of each kind that the backup holds, read by the firmware's own vault."""
    vault = Vault(FlashFiles(os, open, str(folder)))
    found = {}
    for kind in KINDS:
        value, problem = vault.load(kind)
        if value is not None:
            found[kind] = value
        elif problem:
            raise UsageError(f"{folder}: {problem}; nothing was restored")
    return found


def _stage(vault: Vault, values: dict) -> list[str]:
    changed = []
    for kind, value in values.items():
        if kind in OF_THE_BOARD or vault.load(kind)[0] == value:
            continue
        problem = vault.save(kind, value)
        if problem:
            raise NoResult(f"nothing was restored: {problem}")
        changed.append(NAMES[kind])
    return changed


def _refuse_other_sensors(arguments: argparse.Namespace, backup_marks: dict,
                          unit_marks: dict) -> None:
    """A calibration and a zero belong to the sensors and the plumbing they were made with."""
    old, new = unit_marks["settings"], backup_marks.get("settings")
    if arguments.other_sensors or old is None or old == new:
        return
    raise UsageError(
        f"the backup is for other sensors or plumbing (fingerprint {new}) than the unit has "
        f"({old}); nothing was restored; if the backup's sensors are the ones now fitted, add "
        "--other-sensors, and check every port on the ground")


def _write_folder(folder: Path, files: dict[str, bytes], manifest: dict) -> None:
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        place = Path(tempfile.mkdtemp(dir=folder.parent))
    except OSError as error:
        raise UsageError(f"{folder}: cannot be written ({error.strerror})") from error
    try:
        for name, data in files.items():
            (place / name).write_bytes(data)
        (place / MANIFEST).write_text(json.dumps(manifest, indent=1) + "\n")
        for name, data in files.items():
            if (place / name).read_bytes() != data:
                raise NoResult(f"{folder}: {name} did not read back equal from the disk")
        place.chmod(0o755)
        os.rename(place, folder)
    except OSError as error:
        raise UsageError(f"{folder}: cannot be written ({error.strerror})") from error
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
