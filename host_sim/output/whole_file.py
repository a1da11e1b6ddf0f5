"""Files that appear whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from host_sim.errors import UsageError


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A temporary path in target's folder; renamed to target if the block ends well, else removed.

    UsageError where the folder cannot be written.
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
    finally:
        temporary.unlink(missing_ok=True)
