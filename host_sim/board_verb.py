"""`alula board`: find, flash, check and look after a unit on a USB cable."""

import argparse
from collections.abc import Callable
from pathlib import Path

from host_sim.board import backup, check, find, flash, logs, maintain, settings_verb
from host_sim.board.needs import mpremote

Run = Callable[[argparse.Namespace], None]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The sub-verbs, each with its own arguments."""
    verbs = parser.add_subparsers(dest="board_verb", required=True, metavar="WHAT")
    _add(verbs, "find", find.run, "list the USB ports and what answers there", False)
    flash.add_arguments(_add(verbs, "flash", flash.run, "copy the firmware to the board"))
    _add(verbs, "status", find.status, "what the unit says of itself", False)
    _add_settings(verbs)
    _add(verbs, "backup", backup.backup, "copy all records into a new folder").add_argument(
        "folder", type=Path, help="a folder that is not there yet")
    one = _add(verbs, "restore", backup.restore, "store the records of a backup on the unit")
    one.add_argument("folder", type=Path, help="a folder that `backup` made")
    one.add_argument("--other-sensors", action="store_true",
                     help="also where the unit's settings name other sensors or plumbing")
    _add_yes(one)
    _add_logs(verbs)
    check.add_arguments(_add(verbs, "check", check.run, "ground checks, guided by the unit",
                             False))
    _add(verbs, "maintain", maintain.run, "restart into maintenance: the unit is not started")
    _add(verbs, "restart", maintain.restart_unit, "restart the unit, out of maintenance too",
         False)


def run(arguments: argparse.Namespace) -> None:
    """Run one sub-verb."""
    mpremote()  # before anything else: the remedy is the same for all
    arguments.board_run(arguments)


def _add(verbs, name: str, what: Run, text: str, stops: bool = True) -> argparse.ArgumentParser:
    """stops: it needs the unit stopped, and can be told to stop one that does not answer."""
    parser = verbs.add_parser(name, help=text, description=text)
    parser.add_argument("--port", help="the port of the board; without it the only one on USB")
    if stops:
        parser.add_argument("--interrupt", action="store_true", help="stop a program that does "
                            "not answer; only while the aeroplane stands on the ground")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.set_defaults(board_run=what)
    return parser


def _group(verbs, name: str, text: str) -> argparse.ArgumentParser:
    return verbs.add_parser(name, help=text, description=text)


def _add_yes(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--yes", action="store_true", help="do not ask")


def _add_settings(verbs) -> None:
    group = _group(verbs, "settings", "show or change the unit's settings")
    inner = group.add_subparsers(dest="settings_verb", required=True, metavar="WHAT",
                                 parser_class=type(group))
    _add(inner, "show", settings_verb.show_all, "every setting of the unit")
    one = _add(inner, "set", settings_verb.set_one, "store one setting", False)
    one.add_argument("name", metavar="NAME", help="a setting, as `settings show` lists them")
    one.add_argument("value", metavar="VALUE", help="a whole number in the setting's unit, or one "
                     "of its words; takes effect at the unit's next start")
    one = _add(inner, "load", settings_verb.load_file, "store a settings file, whole")
    one.add_argument("file", type=Path, metavar="FILE", help="settings, JSON: a record or a "
                     "profile of `alula tune`; what it does not name goes back to its default")
    _add_yes(one)


def _add_logs(verbs) -> None:
    group = _group(verbs, "logs", "the unit's flight logs")
    inner = group.add_subparsers(dest="logs_verb", required=True, metavar="WHAT",
                                 parser_class=type(group))
    one = _add(inner, "pull", logs.run, "copy new flight logs from the unit")
    one.add_argument("--out", type=Path, default=Path("logs"),
                     help="folder to copy them to (default: %(default)s)")
    one.add_argument("--all", action="store_true", help="also those that are here already")
    one.add_argument("--join", action="store_true", help="also make one file of each session that "
                     "lies in several")
    one.add_argument("--delete", action="store_true",
                     help="then remove them from the unit, once all are verified here")
    _add_yes(one)
