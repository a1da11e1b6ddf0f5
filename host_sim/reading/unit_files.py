"""Settings and calibration files, checked by the firmware's own loaders."""

from pathlib import Path

from host_sim.errors import UsageError
from host_sim.reading.json_file import read_json, refuse_problems
from host_sim.reading.profile_file import unwrap
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import calibration as firmware_calibration  # noqa: E402
from alula.pressure_ratio import PLUMBINGS  # noqa: E402
from alula.settings import load  # noqa: E402

CHANNELS = ("pitot", "angled")


def read_settings(path: Path | None) -> dict:
    """The record of a settings file, bare or in a profile; an empty one without a file."""
    if path is None:
        return {}
    record = unwrap(path, read_json(path, "settings"))
    if not isinstance(record, dict):
        raise UsageError(f"{path}:1: settings must be a JSON object, name to value")
    refuse_problems(path, "settings", load(record)[1])
    return record


def read_calibration(path: Path | None, plumbing: str) -> dict | None:
    """The record of a calibration file for a plumbing; None without a file."""
    if path is None:
        return None
    record = read_json(path, "calibration")
    if record is None:
        raise UsageError(f"{path}:1: holds null, which is no calibration: make one with `alula "
                         "calibrate`, or fly and replay without: the unit is then uncalibrated")
    refuse_problems(path, "calibration", firmware_calibration.problems(record, plumbing))
    assert isinstance(record, dict)  # `problems` has refused everything else
    return record


def choose_plumbing(word: str | None, settings: dict, calibration_path: Path | None) -> str:
    """The plumbing from the command line, the settings or the calibration; never a guess."""
    said = {}
    if word is not None and word not in PLUMBINGS:
        raise UsageError(f"--plumbing {word!r} is not known; use " + ", ".join(PLUMBINGS))
    if word is not None:
        said["--plumbing"] = word
    if "plumbing" in settings:
        said["the settings file"] = settings["plumbing"]
    if calibration_path is not None:
        record = read_json(calibration_path, "calibration")
        if isinstance(record, dict) and record.get("plumbing") in PLUMBINGS:
            said[f"calibration {calibration_path}"] = record["plumbing"]
    if not said:
        raise UsageError("plumbing is not known: add --plumbing " + "|".join(PLUMBINGS))
    if len(set(said.values())) > 1:
        raise UsageError("plumbing is contradictory: " + ", ".join(
            f"{where} says {value}" for where, value in said.items()) + "; make them agree")
    return next(iter(said.values()))


def direct_settings(settings: dict, plumbing: str) -> dict:
    """Settings for pressures that come as 0.1 Pa instead of from the sensors of the file."""
    record = {**settings, "plumbing": plumbing}
    for channel in CHANNELS:
        record[f"{channel}_output"] = "direct"
        record[f"{channel}_low_dpa"], record[f"{channel}_high_dpa"] = -100000, 100000
        record.pop(f"{channel}_sense", None)
    return record
