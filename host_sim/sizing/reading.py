"""From what a file and the command line say to a checked case."""

from typing import Any

from host_sim.errors import UsageError
from host_sim.sizing.case import Case, Pair, Sensor
from host_sim.sizing.quantity import plain_number, quantity, within
from host_sim.sizing.read_sensor import read_sensor
from host_sim.sizing.unit_settings import check_record, settings_of
from host_sim.sizing.wing import PLUMBINGS
from host_sim.world.plumbing import Line

Said = dict[str, Any]
NEEDED = ("stall", "top", "height", "plumbing", "probe_angle", "pitot_line", "angled_line")
TOP_MOST_KT = 240.0  # 10 000 Pa, where the unit's numbers end, is 244 kt
SENSORS_MOST = 40


def read(said: Said, record: dict[str, Any]) -> Case:
    """The case. said: names as in the TOML file; record: settings, name to value. UsageError for
    the first thing that is missing or cannot be."""
    for name in NEEDED:
        if said.get(name) in (None, {}):
            flag = name.replace("_", "-")
            raise UsageError(f"{name} is not known: add --{flag}, or {name} to the case file "
                             "(--example shows one)")
    stall_kt = within(quantity(said["stall"], "speed_kt", "stall"), 15.0, 120.0, "kt", "stall")
    case = Case(
        stall_kt,
        within(quantity(said["top"], "speed_kt", "top"), 1.2 * stall_kt, TOP_MOST_KT, "kt", "top"),
        within(quantity(said["height"], "length_m", "height"), -300.0, 9000.0, "m", "height"),
        _plumbing(said["plumbing"], record), _plain(said, "probe_angle", 20.0, 70.0, "deg"),
        _line(said, "pitot_line"), _line(said, "angled_line"), _pairs(said),
        {name: value for name, value in record.items() if name != "plumbing"}, **_extras(said))
    _check_wing(case)
    check_record(case)
    for pair in case.pairs:
        settings_of(case, pair)
    return case


def _extras(said: Said) -> dict[str, float]:
    """What has a default."""
    found = {}
    for name, field, least, most, unit in (
            ("stall_angle", "stall_deg", 6.0, 30.0, "deg"),
            ("zero_lift_angle", "zero_lift_deg", -12.0, 3.0, "deg"),
            ("limit_load", "limit_load_g", 1.0, 12.0, "g"),
            ("overspeed_pc", "overspeed_pc", 0.0, 50.0, "%"),
            ("sideslip", "sideslip_deg", 0.0, 30.0, "deg")):
        if name in said:
            found[field] = _plain(said, name, least, most, unit)
    for name, field in (("warm_up", "warm_up_k"), ("change", "change_k")):
        if name in said:
            found[field] = within(quantity(said[name], "change_k", name), 0.0, 80.0, "K", name)
    return found


def _plain(said: Said, name: str, least: float, most: float, unit: str) -> float:
    return within(plain_number(said[name], name), least, most, unit, name)


def _plumbing(word: object, record: dict[str, Any]) -> str:
    if word not in PLUMBINGS:
        raise UsageError(f"plumbing {word!r} is not known; use " + ", ".join(PLUMBINGS))
    if record.get("plumbing", word) != word:
        raise UsageError(f"plumbing is contradictory: the case says {word}, the settings say "
                         f"{record['plumbing']}; make them agree")
    return str(word)


def _line(said: Said, name: str) -> Line:
    table = said[name]
    for part in ("length", "bore"):
        if part not in table:
            raise UsageError(f"{name}: {part} is not known; write it with its unit, e.g. "
                             f'{part} = "3 {"m" if part == "length" else "mm"}"')
    length_m = quantity(table["length"], "length_m", f"{name} length")
    bore_mm = 1000.0 * quantity(table["bore"], "length_m", f"{name} bore")
    volume_cm3 = quantity(table.get("volume", "1 cm3"), "volume_cm3", f"{name} volume")
    return Line(within(length_m, 0.05, 30.0, "m", f"{name} length"),
                within(bore_mm, 0.5, 20.0, "mm", f"{name} bore"),
                within(volume_cm3, 0.01, 500.0, "cm3", f"{name} volume"))


def _pairs(said: Said) -> tuple[Pair, ...]:
    sensors: dict[str, Sensor] = {}
    for number, table in enumerate(said.get("sensor", []), start=1):
        sensor = read_sensor(table, f"sensor {number}")
        if sensor.name in sensors:
            raise UsageError(f"sensor {sensor.name!r} stands twice; give each its own name")
        sensors[sensor.name] = sensor
    if not sensors:
        raise UsageError("no sensor is given: add [[sensor]] to the case file, or --sensor NAME "
                         "with --range, --output, --band-pc, --noise and --drift")
    pairs = [Pair(sensor, sensor) for sensor in sensors.values()]
    pairs += [Pair(_of(sensors, table, "pitot"), _of(sensors, table, "angled"))
              for table in said.get("pair", [])]
    if len(pairs) > SENSORS_MOST:
        raise UsageError(f"{len(pairs)} sensors and pairs; give at most {SENSORS_MOST}")
    return tuple(pairs)


def _of(sensors: dict[str, Sensor], table: Said, side: str) -> Sensor:
    name = table.get(side)
    if not isinstance(name, str) or name not in sensors:
        raise UsageError(f"pair: {side} {name!r} is not a sensor of this case; known: "
                         + ", ".join(sensors))
    return sensors[name]


def _check_wing(case: Case) -> None:
    if case.stall_deg - case.zero_lift_deg < 8.0:
        raise UsageError(f"stall_angle {case.stall_deg:g} is not 8 deg above zero_lift_angle "
                         f"{case.zero_lift_deg:g}; correct one of them")
    if case.plumbing != "opposed" and case.probe_deg < case.stall_deg + 10.0:
        raise UsageError(f"probe_angle {case.probe_deg:g} is too near the stall's "
                         f"{case.stall_deg:g} deg: the ratio stops rising where the flow meets "
                         "the port; give 10 deg more at least")
