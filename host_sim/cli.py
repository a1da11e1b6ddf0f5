"""The command `alula`: one verb a file, one way of failing."""

import argparse
import os
import sys

from host_sim import (
    board_verb,
    calibrate,
    card,
    fly,
    listen,
    replay,
    review,
    size,
    tune,
    unpack,
)
from host_sim.errors import NoResult, UsageError

VERBS = {
    "fly": (fly, "simulate a flight through the firmware"),
    "replay": (replay, "run a recorded flight through the firmware"),
    "review": (review, "make a page of a flight, to look at and listen to"),
    "unpack": (unpack, "turn a unit's log into a CSV, and back"),
    "calibrate": (calibrate, "learn where the wing stalls from recorded flights"),
    "listen": (listen, "write the sounds of the unit to a WAV"),
    "size": (size, "judge pressure sensors for an aeroplane"),
    "tune": (tune, "choose smoothing and thresholds over many flights"),
    "card": (card, "make a flight card to print"),
    "board": (board_verb, "find, flash, check and look after a unit on a USB cable"),
}
CAUTION = ("The unit these tools belong to supplements, and never replaces, the primary stall "
           "warning; it is no licence to fly slower.")


class _Parser(argparse.ArgumentParser):
    """An argparse parser that fails with one line."""

    def error(self, message: str) -> None:  # type: ignore[override]
        raise UsageError(f"{message}; see {self.prog} --help")


def build_parser() -> argparse.ArgumentParser:
    """The command line, every verb with its own arguments."""
    parser = _Parser(prog="alula", description="Desk tools of the Alula angle-of-attack unit.",
                     epilog=CAUTION)
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB", parser_class=_Parser)
    for name, (module, text) in VERBS.items():
        module.add_arguments(verbs.add_parser(name, help=text, description=text, epilog=CAUTION))
    return parser


def main(words: list[str] | None = None) -> int:
    """Run one command; 0 done, 1 no result, 2 bad input (one line on standard error)."""
    try:
        arguments = build_parser().parse_args(words)
        VERBS[arguments.verb][0].run(arguments)
    except UsageError as error:
        print("alula: " + " ".join(str(error).splitlines()), file=sys.stderr)
        return 2
    except NoResult as result:
        print(f"alula: {result}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("alula: interrupted; files that were not finished were not written", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of our output has gone, e.g. `| head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return 0
