"""The bar: on a terminal only, only when work takes long, and gone at the end."""

import io
import re

import pytest

from host_sim.output import progress


class Screen(io.StringIO):
    """Standard error that is, or is not, a terminal."""

    def __init__(self, terminal: bool) -> None:
        super().__init__()
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


def drawn(monkeypatch: pytest.MonkeyPatch, terminal: bool, seconds: int) -> str:
    """What stands on the screen after work of so many seconds, told of ten times a second."""
    screen, now = Screen(terminal), [100.0]
    monkeypatch.setattr(progress.sys, "stderr", screen)
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    with progress.Progress("replay", 10 * seconds) as bar:
        for i in range(10 * seconds + 1):
            bar.to(i)
            now[0] += 0.1
    return screen.getvalue()


def test_long_work_shows_a_bar_and_takes_it_away(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = drawn(monkeypatch, True, 10)
    lines = shown.split("\r")
    form = re.compile(r"replay \[(#*) *\] +(\d+)%, (\d+) s left *")
    found = [form.fullmatch(line) for line in lines[1:-2]]
    assert found and all(found)
    for bar, percent, left_s in (one.groups() for one in found):
        assert abs(len(bar) / 30 - int(percent) / 100) < 0.05
        assert abs(int(left_s) - (10 - int(percent) / 10)) <= 1
    assert len(lines) < 60  # a few times a second
    assert lines[-1] == "" and lines[-2].strip() == ""
    assert len(lines[-2]) == len(lines[-3])  # every character is written over


def test_short_work_and_a_file_for_a_screen_show_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    assert drawn(monkeypatch, True, 1) == ""
    assert drawn(monkeypatch, False, 60) == ""
