"""The version of this firmware, as the flight log names it."""

VERSION = "0.6"
