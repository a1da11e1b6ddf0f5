"""How what stands in a file is shown in an error."""

from host_sim.errors import UsageError

_SHOWN_MOST = 40  # characters of a cell or a name


def shown(text: str) -> str:
    """Text from the file: in quotes, odd characters written out, its start only."""
    return repr(text) if len(text) <= _SHOWN_MOST else repr(text[:_SHOWN_MOST]) + "..."


def line_error(where: str, line: int, what: str) -> UsageError:
    """One line: file, line, what is wrong and what to do."""
    return UsageError(f"{where}:{line}: {what}")
