"""How every sub-verb prints: one JSON object, or lines for people."""

import argparse
import json
import sys

from host_sim.errors import UsageError

CAUTION = ("A unit that answers here has not been checked: do the ground checks, and prove it at "
           "a safe height. It supplements, and never replaces, the primary stall warning.")


def show(arguments: argparse.Namespace, found: dict | list, lines: list[str]) -> None:
    """Print what was found."""
    print(json.dumps(found) if arguments.json else "\n".join(lines))


def unit_line(status: dict) -> str:
    """A unit in one line, from its answer to `status`."""
    if not status:
        return "no firmware on the board: `alula board flash` puts it there"
    words = [f"unit: firmware {status.get('firmware', '?')} on {status.get('board', '?')}"]
    if "state" in status:
        words.append(str(status["state"]))
    if status.get("calibrated") is False:
        words.append("not calibrated: it gives no margin sounds")
    return ", ".join(words)


def confirm(arguments: argparse.Namespace, question: str) -> bool:
    """Whether the user agrees: by --yes, or asked on a terminal; UsageError where nobody is."""
    if arguments.yes:
        return True
    if not sys.stdin.isatty():
        raise UsageError(f"{question} add --yes to agree; there is nobody to ask here")
    print(f"{question} [y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")
