"""Which board file runs. Runs in both interpreters; a board is a stand-in in `sys.modules`."""

import sys

from boards import choice

# sys.platform of MicroPython's two ports: "rp2", "esp32" (MicroPython documentation, `sys`)
PORTS = ("rp2", "esp32")


class StandIn:
    """What an imported board file looks like."""

    def __init__(self, board) -> None:
        self.Board = board


def with_modules(modules: dict, job):
    """Call job() with these names imported already."""
    before = {name: sys.modules.get(name) for name in modules}
    sys.modules.update(modules)
    try:
        return job()
    finally:
        for name in before:
            del sys.modules[name]
            if before[name] is not None:
                sys.modules[name] = before[name]


def test_each_port_has_its_board_file():
    for port in PORTS:
        name = "boards." + choice.BOARDS[port]
        chosen = with_modules({name: StandIn(port)}, lambda port=port: choice.choose(port))
        assert chosen == port
    assert sorted(choice.BOARDS) == sorted(PORTS)


def test_the_builder_s_own_file_is_taken_before_the_others():
    modules = {"boards.this_board": StandIn("own"), "boards.rpi_pico": StandIn("pico")}
    assert with_modules(modules, lambda: choice.choose("rp2")) == "own"
    assert with_modules(modules, lambda: choice.choose("another")) == "own"


def test_without_a_file_for_the_port_it_says_what_to_do():
    for platform in ("linux", "", "stm32"):
        try:
            choice.choose(platform)
        except choice.NoBoard as error:
            assert "boards/this_board.py" in str(error)
        else:
            raise AssertionError(platform)


def test_an_own_file_that_fails_is_not_passed_over():
    """Its pins are the ones that are wired; another board's would drive the wrong ones."""
    usual = choice._module

    def failing(name: str):
        if name == choice.OWN:
            raise ImportError("no module named 'max1234'")
        return StandIn("pico")

    choice._module = failing
    try:
        choice.choose("rp2")
    except ImportError as error:
        assert "max1234" in str(error)
    else:
        raise AssertionError
    finally:
        choice._module = usual
