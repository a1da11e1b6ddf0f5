"""A folder on the desk that serves as a unit's flash, through the firmware's own vault."""

import os
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.record_payloads import SETTINGS  # noqa: E402
from alula.vault import Vault  # noqa: E402
from drivers.flash_files import FlashFiles  # noqa: E402
from stored import Stored  # noqa: E402


def set_up_flash(folder: Path, settings: dict) -> Stored:
    """Store the settings if they are new, and load all records. UsageError where it cannot."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{folder}: cannot be a flash folder ({error.strerror}); "
                         "name a folder you may write to") from error
    vault = Vault(FlashFiles(os, open, str(folder)))
    if vault.load(SETTINGS)[0] != settings:
        problem = vault.save(SETTINGS, settings)
        if problem:
            raise UsageError(f"{folder}: {problem}")
    stored = Stored(vault)
    for remark in stored.remarks:
        print(f"{folder}: {remark}")
    return stored
