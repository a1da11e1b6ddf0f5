"""The page of commands: every verb and flag as the command line itself knows them."""

import argparse
import re

from host_sim.cli import CAUTION, build_parser
from host_sim.runtimes.paths import ROOT

_TARGET = re.compile(r"^(?P<name>[a-z-]+):.*?## (?P<text>.*)$", re.MULTILINE)


def commands_page(made: str) -> str:
    """The page; `made` is the line that says what made it."""
    parser = build_parser()
    lines = [made, "# Commands", "",
             "After `make demo` the command is `.venv/bin/alula`; `python -m host_sim` is the "
             "same. Each verb has `--help`. Exit code 0: done; 1: no result, and why; 2: bad "
             "input, told in one line, and nothing half-written; 130: interrupted.", "",
             f"> **Caution.** {CAUTION}", "", "| verb | what it does |", "|---|---|"]
    verbs = _verbs(parser)
    lines += [f"| [`alula {name}`](#alula-{name}) | {_cell(verb.description)} |"
              for name, verb in verbs.items()]
    for name, verb in verbs.items():
        lines += _section(f"alula {name}", verb)
    return "\n".join(lines + _targets()) + "\n"


def _verbs(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The parsers below a parser, by name; of a name and its aliases only the first."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, below in action.choices.items():
                if below not in found.values():
                    found[name] = below
    return found


def _section(name: str, parser: argparse.ArgumentParser) -> list[str]:
    """One verb: its line, its arguments, and the verbs below it."""
    below = _verbs(parser)
    text = parser.description or ""
    lines = ["", f"## {name}", "", *([text[:1].upper() + text[1:] + ".", ""] if text else []),
             "```text", _usage(name, parser), "```"]
    shown = [action for action in parser._actions if _is_shown(action)]
    rows = [_row(action) for action in sorted(shown, key=lambda one: bool(one.option_strings))]
    if rows:
        lines += ["", "| argument | what it is |", "|---|---|", *rows]
    for word, verb in below.items():
        lines += _section(f"{name} {word}", verb)
    return lines


def _is_shown(action: argparse.Action) -> bool:
    return (action.help is not argparse.SUPPRESS
            and not isinstance(action, (argparse._HelpAction, argparse._SubParsersAction)))


def _usage(name: str, parser: argparse.ArgumentParser) -> str:
    words = [name]
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            words.append("VERB")
        elif _is_shown(action) and not action.option_strings:
            words.append(_places(action))
        elif _is_shown(action) and action.required:
            words.append(f"{action.option_strings[0]} {_value(action)}".strip())
    if any(action.option_strings and _is_shown(action) and not action.required
           for action in parser._actions):
        words.append("[options]")
    return " ".join(words)


def _places(action: argparse.Action) -> str:
    """A positional argument in the usage line."""
    name = _value(action)
    return {"?": f"[{name}]", "*": f"[{name} ...]", "+": f"{name} [{name} ...]"}.get(
        str(action.nargs), name)


def _value(action: argparse.Action) -> str:
    """What is written for an argument's value; empty for a switch."""
    if action.nargs == 0:
        return ""
    if isinstance(action.metavar, tuple):
        return " ".join(action.metavar)
    return action.metavar or action.dest.upper()


def _row(action: argparse.Action) -> str:
    shown = ", ".join(f"`{f'{flag} {_value(action)}'.strip()}`"
                      for flag in action.option_strings) or f"`{_places(action)}`"
    text = (action.help or "") % {**vars(action), "prog": "alula"}
    if action.choices is not None:
        text += "; one of " + ", ".join(f"`{choice}`" for choice in action.choices)
    if action.required and action.option_strings:
        text += "; must be given"
    if "default" not in text and isinstance(action.default, (str, int, float)) and (
            not isinstance(action.default, bool)):
        text += f" (default: {action.default})"
    return f"| {shown} | {_cell(text)} |"


def _cell(text: str | None) -> str:
    return (text or "").replace("|", "\\|")


def _targets() -> list[str]:
    """What `make` can do, from the Makefile."""
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    return ["", "## make", "", "| command | what it does |", "|---|---|",
            *(f"| `make {found['name']}` | {_cell(found['text'])} |"
              for found in _TARGET.finditer(text))]
