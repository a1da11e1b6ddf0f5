"""Text files from users, with errors that name the file and the remedy."""

from pathlib import Path

from host_sim.errors import UsageError


def read_text(path: Path, what: str, form: str) -> str:
    """The text of a file, UTF-8 with or without a mark at its start. what: its name in the error,
    e.g. "calibration"; form: what it should be, e.g. "JSON". UsageError where it is no text."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise UsageError(f"{path}: {what} cannot be read ({error.strerror}); "
                         "check the name") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: {what} is not text; name a {form} file") from error


def too_much(path: Path, what: str) -> UsageError:
    """For a number or a nesting that no reader takes."""
    return UsageError(f"{path}: {what} holds a number too long, or brackets too deep, to be "
                      "read; correct the file")
