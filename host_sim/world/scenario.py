"""Scenarios: a flight written down in a TOML file that a pilot can read.

Speeds in the phases are what a perfect airspeed indicator shows (equivalent airspeed, within
0.3 % of calibrated below 100 kt), taxi speeds are over the ground, heights are above the field.
"""

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from host_sim.errors import UsageError
from host_sim.world.pilot import Phase
from host_sim.world.plumbing import Lines
from host_sim.world.probe import Probe
from host_sim.world.scenario_check import check_file
from host_sim.world.sensors import SensorModel
from host_sim.world.turbulence import Gust

_FOLDER = Path(__file__).resolve().parent.parent / "scenarios"


@dataclass(frozen=True)
class Air:
    """Weather: warmer than standard by, headwind along the runway, turbulence, single gusts."""

    temperature_offset_c: float = 0.0
    wind_kt: float = 0.0
    turbulence: str = "none"
    gusts: tuple[Gust, ...] = ()


@dataclass(frozen=True)
class Scenario:
    """One flight, complete: place, air, aeroplane, probe, tubes, sensors and the script."""

    name: str
    title: str
    setting: str
    phases: tuple[Phase, ...]
    field_name: str = "Wren Field"
    elevation_m: float = 0.0
    mass_kg: float = 600.0
    air: Air = field(default_factory=Air)
    probe: Probe = field(default_factory=Probe)
    lines: Lines = field(default_factory=Lines)
    pitot_sensor: SensorModel = field(default_factory=SensorModel)
    angled_sensor: SensorModel = field(default_factory=lambda: SensorModel(name="angled"))


def list_scenarios() -> list[str]:
    """Names of the scenarios that come with the project, in alphabetical order."""
    return sorted(path.stem for path in _FOLDER.glob("*.toml"))


def load_scenario(name_or_path: str | Path) -> Scenario:
    """A shipped scenario by name, or any by path. UsageError names file, key and remedy."""
    path = _find(name_or_path)
    try:
        text = path.read_text(encoding="utf-8-sig")
        table = tomllib.loads(text)
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: cannot be read ({error}); give a TOML text file") from error
    except tomllib.TOMLDecodeError as error:
        raise UsageError(f"{path}: not valid TOML: {error}; correct that line") from error
    return _build(path, check_file(path.name, table))


def _find(name_or_path: str | Path) -> Path:
    shipped = _FOLDER / f"{name_or_path}.toml"
    if str(name_or_path) in list_scenarios():
        return shipped
    path = Path(name_or_path)
    if path.is_file():
        return path
    raise UsageError(
        f"{name_or_path}: no such scenario or file; shipped are {', '.join(list_scenarios())}"
    )


def _build(path: Path, table: dict[str, Any]) -> Scenario:
    place = table["field"]
    gusts = tuple(Gust(**gust) for gust in table["gusts"])
    return Scenario(
        name=path.stem,
        title=table["title"],
        setting=table["setting"],
        phases=tuple(table["phases"]),
        field_name=place.get("name", "Wren Field"),
        elevation_m=place.get("elevation_m", 0.0),
        mass_kg=table["aeroplane"].get("mass_kg", 600.0),
        air=Air(gusts=gusts, **table["air"]),
        probe=Probe(**table["probe"]),
        lines=Lines(**table["lines"]),
        pitot_sensor=SensorModel(name="pitot", **table["pitot"]),
        angled_sensor=SensorModel(name="angled", **table["angled"]),
    )
