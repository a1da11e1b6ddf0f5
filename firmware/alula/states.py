"""The states of the unit, in rising order of urgency up to STALLING."""

from micropython import const

QUIET = const(0)
CALM = const(1)
PRESSING = const(2)
STALLING = const(3)
FAULT = const(4)  # the unit cannot know
UNCALIBRATED = const(5)  # the unit has never been shown this wing

WORDS = ("quiet", "calm", "pressing", "stalling", "fault", "uncalibrated")
