"""Files that appear whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from host_sim.errors import UsageError


class _Tried(Exception):
    """Ends a trial write; the target stays as it was."""


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A temporary path in target's folder; renamed to target if the block ends well, else removed.

    UsageError where the folder cannot be written, or the disk is full.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, suffix=target.suffix)
    except OSError as error:
        raise UsageError(f"{target}: cannot be written ({error.strerror}); "
                         "name a folder you may write to") from error
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        temporary.chmod(0o644)
        os.replace(temporary, target)
    except IsADirectoryError as error:
        raise UsageError(f"{target}: is a folder; name a file") from error
    except OSError as error:
        raise UsageError(f"{target}: cannot be written ({error.strerror}); make room, or name "
                         "another folder") from error
    finally:
        temporary.unlink(missing_ok=True)


def check_targets(targets: dict[str, Path | None], sources: list[Path]) -> None:
    """Refuse, before any work is done, targets that could not be written or must not be.

    targets: option to path; None where it was not asked for. sources: files that are read.
    UsageError for a folder, a source or the same file twice; otherwise as `whole_file`.
    """
    taken = {source.resolve(): "is what is read" for source in sources}
    for option, target in targets.items():
        if target is None:
            continue
        place = target.resolve()
        if place in taken:
            raise UsageError(f"{option} {target}: {taken[place]}; name another file")
        taken[place] = f"is named by {option} as well"
        if target.is_dir():
            raise UsageError(f"{target}: is a folder; name a file")
        with suppress(_Tried), whole_file(target):
            raise _Tried
