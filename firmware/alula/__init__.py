"""Alula's pure logic: raw sensor words in, tone requests out.

Integers only, no hardware, no clock of its own: time comes in as an argument.
The way through the rooms, each file one of them:

    sample -> transfer -> conditioning -> pressure_ratio -> lift_curve -> cues -> voice

`health`, `flight_phase` and `ground_zero` judge the same stream; `unit` wires them all.
"""
