"""`alula size`: will this sensor do for this aeroplane?"""

import argparse
import json
from pathlib import Path
from typing import Any

from host_sim.errors import UsageError
from host_sim.output.progress import Progress
from host_sim.reading.unit_files import read_settings
from host_sim.sizing.answer import answer_for
from host_sim.sizing.case_file import LINES, PLAIN, SENSOR_NAMES, read_case
from host_sim.sizing.example import EXAMPLE
from host_sim.sizing.figures import answer_figures, case_figures
from host_sim.sizing.reading import read
from host_sim.sizing.table import CAUTION, NOT_COUNTED, as_text

HELP = {
    "stall": '1 g stall, calibrated, slowest that counts: "42 kt", "78 km/h"; plain is kt',
    "top": "top speed", "height": 'greatest height: "8000 ft"',
    "plumbing": "port-static, pitot-port or opposed",
    "probe_angle": "port below the body axis, degrees",
    "stall_angle": "body angle of attack at the stall, degrees (15.5)",
    "zero_lift_angle": "body angle without lift, degrees (-3.5)",
    "limit_load": "limit load factor (3.8)",
    "overspeed_pc": "range is judged at so much above the top speed, %% (10)",
    "sideslip": "and in so much sideslip, degrees (10)",
    "warm_up": 'warming up before the second zero ("10 K")',
    "change": 'temperature change after it ("15 K")',
}
SENSOR_HELP = {
    "range": 'for both signs: "1 psi"', "low": "low end, if not the range's other sign",
    "high": "high end", "output": "family and output type as in the settings, or direct",
    "bits": "bits that mean something", "resolution": 'or the least step: "0.2 Pa"',
    "band_pc": "total error band, +- %% of the span", "noise": 'rms: "1 Pa"',
    "drift": 'of the zero: "0.3 Pa/K" or "0.002 %%/K"',
    "response": 'age of a reading ("1 ms")',
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments: every name of the case file is a flag, which wins over the file."""
    parser.add_argument("file", type=Path, nargs="?", help="case, TOML: aeroplane, tubes, "
                        "settings and a list of sensors; see --example")
    parser.add_argument("--example", action="store_true", help="show a case file to start from")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
    parser.add_argument("--settings", type=Path, help="settings, JSON: smoothing and thresholds")
    parser.add_argument("--set", action="append", default=[], metavar="NAME=VALUE",
                        help="one setting, e.g. window_ms=200; may be given again")
    for name in PLAIN:
        parser.add_argument(_flag(name), help=HELP[name])
    for name in LINES:
        parser.add_argument(_flag(name), nargs=2, metavar=("LENGTH", "BORE"),
                            help='tube, e.g. "3 m" "3 mm"')
    parser.add_argument("--sensor", metavar="NAME", help="one more sensor, described by:")
    for name in SENSOR_NAMES[1:]:
        parser.add_argument(_flag(name), help=SENSOR_HELP[name])


def run(arguments: argparse.Namespace) -> None:
    """Judge every sensor of a case."""
    if arguments.example:
        print(EXAMPLE, end="")
        return
    said = read_case(arguments.file) if arguments.file else {}
    case = read(_with_flags(said, arguments), _settings(said, arguments))
    common, found = case_figures(case), []
    with Progress("sensors", len(case.pairs)) as bar:
        for done, pair in enumerate(case.pairs, start=1):
            found.append(answer_figures(case, answer_for(case, pair)))
            bar.to(done)
    if arguments.json:
        print(json.dumps({"case": common, "sensors": found, "not_counted": NOT_COUNTED,
                          "caution": CAUTION}, allow_nan=False))
    else:
        print(as_text(case, common, found))


def _flag(name: str) -> str:
    return "--" + name.replace("_", "-")


def _with_flags(said: dict[str, Any], arguments: argparse.Namespace) -> dict[str, Any]:
    """What the file says, with what the flags say instead or besides."""
    said = dict(said)
    for name in PLAIN:
        if getattr(arguments, name) is not None:
            said[name] = getattr(arguments, name)
    for name in LINES:
        if getattr(arguments, name) is not None:
            length, bore = getattr(arguments, name)
            said[name] = {**said.get(name, {}), "length": length, "bore": bore}
    sensor = {name: getattr(arguments, name) for name in SENSOR_NAMES[1:]
              if getattr(arguments, name) is not None}
    if sensor and arguments.sensor is None:
        raise UsageError(f"{_flag(next(iter(sensor)))} describes a sensor that has no name: add "
                         "--sensor NAME")
    if arguments.sensor is not None:
        said["sensor"] = [*said.get("sensor", []), {"name": arguments.sensor, **sensor}]
    return said


def _settings(said: dict[str, Any], arguments: argparse.Namespace) -> dict[str, Any]:
    """Settings, name to value: of the settings file, then the case file, then the flags."""
    record = {**read_settings(arguments.settings), **said.get("settings", {})}
    for text in arguments.set:
        name, equals, value = text.partition("=")
        if not equals or not name:
            raise UsageError(f"--set {text!r}: write NAME=VALUE, e.g. window_ms=200")
        try:
            record[name.strip()] = int(value)
        except ValueError:
            record[name.strip()] = value.strip()
    return record
