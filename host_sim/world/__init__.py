"""The simulated world: air, aeroplane, pilot, probe, tubes and sensors, in plain floats.

Independent of the firmware on purpose: it has constants and formulas of its own, so that one
slip cannot hide on both sides of a test.
"""
