"""A part; the tests write another version of it."""

says = "1"
