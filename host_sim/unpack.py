"""`alula unpack`: a unit's log as a CSV of raw words and decisions, and back."""

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.reading.unit_log import UnitLog, open_log
from host_sim.reading.unit_log_csv import csv_lines
from host_sim.reading.unit_log_pack import packed
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.log_layout import BLOCK_BYTES  # noqa: E402


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("file", type=Path, help="a unit's log; with --back, the CSV made of one")
    parser.add_argument("--out", type=Path, required=True, help="file to write")
    parser.add_argument("--back", action="store_true", help="make the log from its CSV again")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")


def run(arguments: argparse.Namespace) -> None:
    """Unpack one log, or pack it again."""
    check_targets({"--out": arguments.out}, [arguments.file])
    if arguments.back:
        count = _back(arguments.file, arguments.out)
        said: dict = {"blocks": count}
        text = f"{arguments.out}: {count} blocks"
    else:
        log = open_log(arguments.file)
        rows = _unpack(log, arguments.out)
        notes = log.notes + [note for session in log.sessions for note in session.notes]
        said = {"rows": rows, "sessions": [one.number for one in log.sessions], "notes": notes}
        text = "\n".join([f"{arguments.out}: {rows} rows, {len(log.sessions)} sessions", *notes])
    print(json.dumps(said) if arguments.json else text)


def _unpack(log: UnitLog, out: Path) -> int:
    rows = -2  # the title and the names of the columns
    with (whole_file(out) as temporary, Progress("unpack", len(log.headers)) as bar,
          temporary.open("w", encoding="utf-8", newline="\n") as file):
        blocks = 0
        for line in csv_lines(log):
            file.write(line + "\n")
            if line.startswith("#block"):
                blocks += 1
                bar.to(blocks)
            else:
                rows += 1
    return rows


def _back(source: Path, out: Path) -> int:
    blocks = 0
    with whole_file(out) as temporary, temporary.open("wb") as file:
        for block in packed(_lines(source), str(source)):
            file.write(block)
            blocks += len(block) // BLOCK_BYTES
        if not blocks:
            raise UsageError(f"{source}: holds no #block line; name a CSV that `alula unpack` "
                             "made")
    return blocks


def _lines(source: Path) -> Iterator[str]:
    try:
        with source.open(encoding="utf-8-sig", newline="") as file:
            yield from file
    except OSError as error:
        raise UsageError(f"{source}: cannot be read ({error.strerror}); "
                         "check the name") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{source}: is not text; name a CSV that `alula unpack` made, or leave "
                         "out --back") from error
