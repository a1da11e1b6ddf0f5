"""Everything that touches hardware: sensors over I2C, tone output, lamp, button, watchdog, clock.

A driver is given its hardware (bus, pin, PWM, `time` module) and never makes it, so the same file
runs on the board and, over the fakes of the bench, on the desk. Those hardware arguments carry no
annotation: MicroPython has no `typing`, and no builtin type describes them.
In flight a driver never raises and never allocates: what went wrong is a status and a count.
"""
