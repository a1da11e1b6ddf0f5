"""Whole numbers as the board has them, and a unit made of them.

On a 32-bit board MicroPython keeps a whole number without allocation only within 31 bits, signed
(MicroPython documentation, "Maximising speed"; small ints): a result outside would be an object on
the heap. `BoardInt` raises there, whatever the operator; `made_of_board_ints` turns every number
inside a unit into one, so that the firmware's real code computes with them.
"""

import operator
from array import array

MOST = (1 << 30) - 1
BINARY = ("add", "sub", "mul", "floordiv", "mod", "and", "or", "xor", "lshift", "rshift", "pow")
UNARY = ("neg", "pos", "abs", "invert")


class LeavesTheBoard(ArithmeticError):
    """A result that would be no small integer on the board."""


class BoardInt(int):
    """An int whose every result is checked."""

    def __new__(cls, value: int) -> "BoardInt":
        if not -MOST <= value <= MOST:
            raise LeavesTheBoard(f"{value} does not fit 31 bits")
        return super().__new__(cls, value)

    def __truediv__(self, other):
        raise TypeError("a float on the board is an object on the heap")

    __rtruediv__ = __float__ = __truediv__

    def __divmod__(self, other):
        raise TypeError("a tuple is an object on the heap")

    __rdivmod__ = __divmod__


def _binary(name: str):
    plain = getattr(operator, f"__{name}__")

    def forward(self, other):
        return BoardInt(plain(int(self), int(other)))

    def reflected(self, other):
        return BoardInt(plain(int(other), int(self)))

    return forward, reflected


def _unary(name: str):
    plain = getattr(operator, f"__{name}__")
    return lambda self: BoardInt(plain(int(self)))


for _name in BINARY:
    _forward, _reflected = _binary(_name)
    setattr(BoardInt, f"__{_name}__", _forward)
    setattr(BoardInt, f"__r{_name}__", _reflected)
for _name in UNARY:
    setattr(BoardInt, f"__{_name}__", _unary(_name))


class BoardArray(list):
    """Stands in for `array("i")`: keeps the class of what is stored, refuses what does not fit."""

    def __init__(self, values) -> None:
        super().__init__(BoardInt(value) for value in values)

    def __setitem__(self, index, value) -> None:
        super().__setitem__(index, BoardInt(value))


def made_of_board_ints(thing, seen: set | None = None):
    """`thing`, every whole number in it and its parts a BoardInt; objects change in place."""
    seen = set() if seen is None else seen
    if isinstance(thing, bool) or thing is None or isinstance(thing, str):
        return thing
    if isinstance(thing, int):
        return BoardInt(thing)
    if isinstance(thing, array):
        return BoardArray(thing)
    if isinstance(thing, (list, tuple)):
        return type(thing)(made_of_board_ints(part, seen) for part in thing)
    if id(thing) not in seen and hasattr(thing, "__dict__"):
        seen.add(id(thing))
        for name, value in vars(thing).items():
            setattr(thing, name, made_of_board_ints(value, seen))
    return thing
