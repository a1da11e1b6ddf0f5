"""`--help` of every verb, and of those below it: nothing is left unsaid, nothing dangles."""

import argparse
import re
from collections.abc import Iterator

import pytest

from host_sim.cli import build_parser, main


def below(parser: argparse.ArgumentParser) -> list[argparse._SubParsersAction]:
    """Where a parser names verbs."""
    return [one for one in parser._actions if isinstance(one, argparse._SubParsersAction)]


def parsers(words: tuple, parser: argparse.ArgumentParser) -> Iterator[tuple]:
    """(words, parser) of the command line and all below it."""
    yield words, parser
    for action in below(parser):
        for word, found in action.choices.items():
            yield from parsers((*words, word), found)


ALL = list(parsers((), build_parser()))


def test_all_verbs_are_there():
    names = {" ".join(words) for words, _ in ALL}
    assert {"fly", "replay", "tune", "board flash", "board settings load", "board logs pull"} <= (
        names)
    assert len(names) == len(ALL)


@pytest.mark.parametrize(("words", "parser"), ALL, ids=[" ".join(words) or "alula"
                                                        for words, _ in ALL])
def test_every_verb_says_what_it_does_and_what_each_argument_is(words, parser, capsys):
    assert parser.description
    for action in below(parser):
        lines = {one.dest: one.help for one in action._choices_actions}
        assert set(lines) == set(action.choices) and all(lines.values())
    without = [one.dest for one in parser._actions if not one.help
               and not isinstance(one, argparse._SubParsersAction)]
    assert without == []
    with pytest.raises(SystemExit) as ended:
        main([*words, "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert ended.value.code == 0
    assert parser.description in told  # and a `%` in a text is no mistake
    assert not re.search(r"\b(see|as) (below|above)\b", told)


@pytest.mark.parametrize(("words", "parser"), ALL, ids=[" ".join(words) or "alula"
                                                        for words, _ in ALL])
def test_a_help_names_only_flags_that_are_there(words, parser):
    """`see --columns` is of use only where there is such a flag."""
    flags = {flag for one in parser._actions for flag in one.option_strings}
    for action in parser._actions:
        for named in re.findall(r"(?<![\w-])--[a-z][a-z-]*", action.help or ""):
            assert named in flags, (words, action.dest, named)
