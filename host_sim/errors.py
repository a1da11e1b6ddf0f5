"""The exceptions that a desk command turns into one clear line and an exit code."""


class UsageError(Exception):
    """Bad input: the message says what is wrong, where, and what to do, in one line."""


class NoResult(Exception):
    """The input was good, but there is nothing to write; exit code 1."""
