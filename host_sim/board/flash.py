"""`alula board flash`: lay the firmware down, verify all of it, switch over, tidy up."""

import argparse
import hashlib
from dataclasses import dataclass

from host_sim.board.boards import Machine, choose_board, machine_of
from host_sim.board.image import FOLDER_START, MAIN, Image, build_image, folder_named
from host_sim.board.ports import choose_port
from host_sim.board.repl import TEMPORARY, BoardError, Repl
from host_sim.board.session import leave, maintenance
from host_sim.board.show import CAUTION, show, unit_line
from host_sim.errors import NoResult, UsageError
from host_sim.output.progress import Progress
from host_sim.runtimes.paths import FIRMWARE

SPARE_BLOCKS = 6  # littlefs copies pointers while it writes: as the flight log keeps
ENDINGS = (".py", ".mpy")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-verb's arguments."""
    parser.add_argument("--board", help="the board file, where the board does not tell by "
                        "itself; refused where a unit on this board would not find it")
    parser.add_argument("--dry-run", action="store_true",
                        help="only say what would be copied and removed")


@dataclass(frozen=True)
class Plan:
    """missing: files of the image that are not in its folder; twins: for those of them that the
    firmware in use has too, where. same_main: main.py is right already. gone: paths that go at
    the end. dead: what an update that was cut off has left; it goes first."""

    image: Image
    missing: list[str]
    twins: dict[str, str]
    same_main: bool
    gone: list[str]
    dead: list[str]

    def done(self) -> bool:
        """Nothing to do."""
        return not self.missing and self.same_main and not self.gone and not self.dead


def run(arguments: argparse.Namespace) -> None:
    """Flash one board."""
    port = choose_port(arguments.port)
    with maintenance(port, arguments.interrupt) as repl:
        machine = machine_of(repl)
        board = choose_board(machine, arguments.board)
        plan = make_plan(repl, build_image(board, machine))
        if not arguments.dry_run:
            carry_out(repl, plan)
        status = leave(repl)
    found = {**_found(plan, machine, board, arguments.dry_run), "status": status}
    show(arguments, found, [*_lines(plan, found), unit_line(status), CAUTION])


def make_plan(repl: Repl, image: Image) -> Plan:
    """Compare the board with what is to lie on it."""
    there = _there(repl)
    main = repl.get(MAIN, there[MAIN], lambda count: None) if MAIN in there else b""
    active = folder_named(main)
    same = _equal(repl, image, image.folder, there)
    missing = [path for path in image.hashes() if path not in same]
    twins = {} if active in ("", image.folder) or not missing else {
        image.folder + path[len(active):]: path for path in _equal(repl, image, active, there)}
    folders = [path for path in there
               if path.startswith(FOLDER_START) and path.count("/") == 1 and path != image.folder]
    cut = ["/" + TEMPORARY] if "/" + TEMPORARY in there else []
    return Plan(
        image, missing, {new: old for new, old in twins.items() if new in missing},
        main == image.main,
        _strange(image, there) + [path for path in folders if path == active] + _in_root(there),
        cut + [path for path in folders if path != active])


def _equal(repl: Repl, image: Image, folder: str, there: dict[str, int]) -> list[str]:
    """The files in a folder on the board that are as the image's of the same name."""
    wanted = {f"{folder}/{name}": data for name, data in image.files.items()}
    present = [path for path, data in wanted.items() if there.get(path) == len(data)]
    with Progress("comparing", len(present)) as bar:
        found = repl.hashes(present, bar.to)
    return [path for path in present
            if found[path] == hashlib.sha256(wanted[path]).hexdigest()]


def _strange(image: Image, there: dict[str, int]) -> list[str]:
    """What lies in the image's own folder and does not belong there."""
    wanted = image.hashes()
    folders = {path.rsplit("/", 1)[0] for path in wanted}
    return [path for path in there if path.startswith(image.folder + "/")
            and path not in wanted and path not in folders]


def _there(repl: Repl) -> dict[str, int]:
    """The root, and all below the folders that firmware may lie in; a card that is mounted
    beside them is left alone."""
    root = repl.root()
    found = dict(root)
    rooms = {"/" + path.name for path in FIRMWARE.iterdir() if path.is_dir()}
    for path, size in root.items():
        if size < 0 and (path in rooms or path.startswith(FOLDER_START)):
            found.update(repl.tree(path))
    return found


def carry_out(repl: Repl, plan: Plan) -> None:
    """Copy, verify, switch, tidy; cut off anywhere, the next run goes on from there."""
    for path in plan.dead:
        repl.remove(path)
    _refuse_no_room(repl, plan)
    _copy(repl, plan)
    if not plan.same_main:
        _switch(repl, plan.image)
    for path in plan.gone:
        repl.remove(path)


def _copy(repl: Repl, plan: Plan) -> None:
    """What the firmware in use has too is copied on the board, the rest comes over the cable."""
    image, wanted = plan.image, plan.image.hashes()
    names = {f"{image.folder}/{name}": data for name, data in image.files.items()}
    done = 0
    with Progress("copying", sum(len(names[path]) for path in plan.missing)) as bar:
        for path in plan.missing:
            if path in plan.twins:
                repl.copy(plan.twins[path], path, wanted[path])
            else:
                repl.put(path, names[path], lambda count: None)
            done += len(names[path])
            bar.to(done)


def _switch(repl: Repl, image: Image) -> None:
    """All is on the board: looked at once more, then main.py."""
    wanted = image.hashes()
    with Progress("verifying", len(wanted)) as bar:
        if repl.hashes(list(wanted), bar.to) != wanted:
            raise NoResult(f"{repl.port.name}: a file does not read back as it was copied; the "
                           "old firmware stays in use; run the same command again")
    try:
        repl.put(MAIN, image.main, lambda count: None)
    except BoardError as error:
        raise NoResult(f"{error}; all is copied, but the old firmware stays in use") from error


def _refuse_no_room(repl: Repl, plan: Plan) -> None:
    if not plan.missing:
        return
    free, block = repl.free_bytes()
    left = {path[len(plan.image.folder) + 1:] for path in plan.missing}
    part = Image(plan.image.folder, {name: plan.image.files[name] for name in left}, b"")
    needed = part.bytes_on_flash(block) + SPARE_BLOCKS * block
    if free < needed:
        raise UsageError(
            f"the flash has {free // 1024} kB free and the new firmware needs {needed // 1024} "
            "kB beside the old one, which stays until the new one is whole: get the logs off "
            "with `alula board logs pull --delete`, then flash again")


def _in_root(there: dict[str, int]) -> list[str]:
    """Firmware that was copied into the root by hand; its .py files would be found first no
    more, but they take room."""
    found = []
    for source in sorted(FIRMWARE.rglob("*.py")):
        name = source.relative_to(FIRMWARE).with_suffix("").as_posix()
        if name != "main":
            found += [f"/{name}{ending}" for ending in ENDINGS if f"/{name}{ending}" in there]
    found += ["/main.mpy"] if "/main.mpy" in there else []
    folders = {path.parent for path in FIRMWARE.rglob("*.py") if path.parent != FIRMWARE}
    for folder in sorted(folders, key=lambda path: -len(path.parts)):
        name = "/" + folder.relative_to(FIRMWARE).as_posix()
        below = [path for path in there if path.startswith(name + "/")]
        if name in there and all(path in found for path in below):
            found.append(name)
    return found


def _found(plan: Plan, machine: Machine, board: str, dry: bool) -> dict:
    return {"dry_run": dry, "micropython": machine.version, "machine": machine.machine,
            "board": board, "folder": plan.image.folder, "files": len(plan.image.files),
            "copied": [path for path in plan.missing if path not in plan.twins],
            "kept": sorted(plan.twins), "main": not plan.same_main,
            "removed": plan.dead + plan.gone,
            "sha256": {**plan.image.hashes(),
                       MAIN: hashlib.sha256(plan.image.main).hexdigest()}}


def _lines(plan: Plan, found: dict) -> list[str]:
    if plan.done():
        return [f"{found['board']}: this firmware is on the board already; nothing to copy"]
    would = "would be " if found["dry_run"] else ""
    return [f"{found['board']}: {len(found['copied'])} of {found['files']} files {would}copied to "
            f"{plan.image.folder}, {len(plan.twins)} {would}taken over from the firmware in use; "
            "each verified by SHA-256 on the board",
            f"main.py: {'as it was' if plan.same_main else would + 'switched over'}",
            f"{would}removed: {', '.join(found['removed']) or 'nothing'}; records and logs are "
            "not touched"]
