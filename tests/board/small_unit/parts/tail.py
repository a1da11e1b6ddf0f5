"""A part; the tests write another version of it."""

SAYS = "1"
