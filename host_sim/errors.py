"""The one exception a desk command turns into a clear line and exit code 2."""


class UsageError(Exception):
    """Bad input: the message says what is wrong, where, and what to do, in one line."""
