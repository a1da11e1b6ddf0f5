"""Fakes of the hardware and a clock of their own, to run the firmware without a board.

The same source runs in CPython and in MicroPython, and once built the fakes do not allocate, so a
loop under a locked heap can run over them. They know data sheets and bus rules, not the firmware.
"""
