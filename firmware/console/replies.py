"""Answers as bytes, one line of JSON each. Runs between two ticks; may allocate."""

import json


def ready(**fields) -> dict:
    """An answer that is good."""
    found = {"ok": True}
    found.update(fields)
    return found


def refused(why: str, do: str) -> dict:
    """Why not, and what to do instead."""
    return {"ok": False, "why": why, "do": do}


def as_line(answer: dict) -> bytes:
    """The line that goes to the computer: ASCII, a newline at its end and nowhere else."""
    text = json.dumps(answer)
    return ("".join([c if " " <= c <= "~" else "?" for c in text]) + "\n").encode()


FLYING = as_line(refused(
    "the aeroplane flies, or a sound is on", "ask for status or settings while all is quiet, once "
    "a second at most; all else on the ground"))
TOO_LONG = as_line(refused("the line is too long", "send one command of at most 120 characters"))
NOT_TEXT = as_line(refused("the line is not plain text", "send printable ASCII"))
STARTING = as_line(refused(
    "the unit has just started and does not know yet whether it flies", "ask again in 3 seconds"))
