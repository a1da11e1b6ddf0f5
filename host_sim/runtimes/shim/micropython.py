"""The few names of MicroPython's own module that the firmware uses, for CPython.

This is the only shim of the project: everything else the firmware needs exists in both.
"""


def const(value: int) -> int:
    """A constant; the board's compiler folds it away, CPython just keeps the number."""
    return value
