"""The few names of MicroPython's own module that the firmware uses, for CPython.

This is the only shim of the project: everything else the firmware needs exists in both.
"""


from collections.abc import Callable
from typing import TypeVar

Function = TypeVar("Function", bound=Callable)


def const(value: int) -> int:
    """A constant; the board's compiler folds it away, CPython just keeps the number."""
    return value


def native(function: Function) -> Function:
    """Machine code on the board, where it is a word of the compiler; CPython changes nothing."""
    return function
