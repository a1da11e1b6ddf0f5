"""`alula fly`: a simulated flight, felt by fake sensors, judged by the firmware."""

import argparse
import json
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.output.capture_story import capture_story
from host_sim.output.changes import as_json, changes, seconds_in_states, table
from host_sim.output.trace import write_trace
from host_sim.output.whole_file import whole_file
from host_sim.reading.unit_files import choose_plumbing, read_calibration, read_settings
from host_sim.runtimes.flash_folder import set_up_flash
from host_sim.runtimes.paths import use_firmware
from host_sim.runtimes.run import RUNTIMES, Stream, run_stream
from host_sim.world.calibration_truth import true_calibration
from host_sim.world.faults import FAULTS, inject
from host_sim.world.flight import Flight
from host_sim.world.flight import fly as fly_world
from host_sim.world.probe import PLUMBINGS
from host_sim.world.scenario import Scenario, list_scenarios, load_scenario
from host_sim.world.sensors import DIGITAL, accelerometer_words, to_words

use_firmware()

from alula.settings import load  # noqa: E402
from alula.transfer import (  # noqa: E402
    COMPENSATED,
    COMPENSATED_ADDRESSES,
    COMPENSATED_MOST_DPA,
)

DEFAULT_SCENARIO = "tightened-turn"
CALIBRATION = "calibration.json"
FLYING_Q_DPA = 2300  # the Lark 2 stalls at 40 kt with full flap, 260 Pa: 0.9 of that


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("scenario", nargs="?", default=DEFAULT_SCENARIO,
                        help="a name from --list, or a TOML file (default: %(default)s)")
    parser.add_argument("--list", action="store_true", help="list the scenarios and stop")
    parser.add_argument("--seed", type=int, default=1, help="of noise and turbulence")
    parser.add_argument("--plumbing", choices=PLUMBINGS, help="how this invented aeroplane is "
                        "plumbed (default: as --settings says, else port-static)")
    parser.add_argument("--settings", type=Path, help="settings, JSON; sensors come from the "
                        "scenario")
    parser.add_argument("--calibration", type=Path, help="calibration, JSON (default: the "
                        "one a perfect capture would give)")
    parser.add_argument("--fault", metavar="NAME[@TIME[+SECONDS]]",
                        help="lay a fault over the sensors: " + ", ".join(FAULTS))
    parser.add_argument("--flash", type=Path, help="folder that serves as the unit's flash: it "
                        "starts with what is stored there, and stores what it learns")
    parser.add_argument("--uncalibrated", action="store_true", help="fly without a calibration")
    parser.add_argument("--out", type=Path, help="folder for flight, trace, picture and sound "
                        "(default: out/SCENARIO)")
    parser.add_argument("--runtime", choices=RUNTIMES, default="cpython",
                        help="which interpreter runs the firmware")
    parser.add_argument("--json", action="store_true", help="print JSON instead of a summary")


def run(arguments: argparse.Namespace) -> None:
    """Fly one scenario."""
    if arguments.list:
        for name in list_scenarios():
            print(f"{name:<20} {load_scenario(name).title}")
        return
    if arguments.seed < 0:
        raise UsageError("--seed must be 0 or more")
    scenario = load_scenario(arguments.scenario)
    record = read_settings(arguments.settings)
    if arguments.plumbing is None and "plumbing" not in record:
        arguments.plumbing = "port-static"
    arguments.plumbing = choose_plumbing(arguments.plumbing, record, None)
    settings = _fitting(arguments.scenario,
                        scenario_settings(scenario, arguments.plumbing, record))
    rate_hz = settings.get("sample_rate_hz", 100)
    flight = fly_world(scenario, arguments.seed, arguments.plumbing, rate_hz)
    stream = _stream(arguments, flight, settings)
    out = run_stream(stream, arguments.runtime)
    folder = arguments.out or Path("out") / Path(arguments.scenario).stem
    written = _write(folder, flight, stream, out)
    print(_json(flight, out, written) if arguments.json
          else _summary(arguments, flight, out, [_written(arguments, folder, written)]))


def _stream(arguments: argparse.Namespace, flight: Flight, settings: dict) -> Stream:
    """Sensor contents, and the records that the unit starts with."""
    rows = sensor_rows(flight, arguments.seed)
    if arguments.fault:
        rows, arguments.fault = inject(rows, arguments.fault, arguments.seed, flight)
    if not arguments.flash:
        return Stream(rows, settings, _calibration(arguments, flight),
                      stored_zero(flight.scenario), "bench")
    if arguments.calibration or arguments.uncalibrated:
        raise UsageError("--flash brings its own calibration: leave out --calibration and "
                         "--uncalibrated")
    stored = set_up_flash(arguments.flash, settings)
    return Stream(rows, settings, stored.plain, stored.zero, "bench", str(arguments.flash))


def scenario_settings(scenario: Scenario, plumbing: str, settings: dict) -> dict:
    """The settings of a unit with the scenario's sensors."""
    record = {"flying_q_dpa": FLYING_Q_DPA, **settings, "plumbing": plumbing,
              "accelerometer": "lis3dh", "flap_switches": 3}
    for channel, sensor in (("pitot", scenario.pitot_sensor), ("angled", scenario.angled_sensor)):
        reach_dpa = round(sensor.range_pa * 10)
        record[f"{channel}_low_dpa"], record[f"{channel}_high_dpa"] = -reach_dpa, reach_dpa
        record[f"{channel}_output"] = f"hsc-{sensor.output.lower()}"
        if sensor.output == DIGITAL:
            record[f"{channel}_output"] = COMPENSATED[reach_dpa > COMPENSATED_MOST_DPA[0]]
            record[f"{channel}_address"] = COMPENSATED_ADDRESSES[channel == "angled"]
    return record


def _fitting(scenario: str, record: dict) -> dict:
    """The settings, if the unit takes them; UsageError, e.g. for a range beyond what it reads."""
    problems = load(record)[1]
    if problems:
        name, problem = problems[0]
        raise UsageError(f"{scenario}: a unit with these sensors and settings would be refused: "
                         f"{name} {problem}")
    return record


def stored_zero(scenario: Scenario) -> dict:
    """The zero that this unit stored on a calm day: what its sensors read at rest."""
    return {"pitot_dpa": round(10 * scenario.pitot_sensor.zero_error_pa),
            "angled_dpa": round(10 * scenario.angled_sensor.zero_error_pa)}


def sensor_rows(flight: Flight, seed: int) -> np.ndarray:
    """What the fake sensors hold in each tick, as input rows of the bench."""
    scenario = flight.scenario
    pitot, pitot_status = to_words(flight.pitot_pa, scenario.pitot_sensor, seed)
    angled, angled_status = to_words(flight.angled_pa, scenario.angled_sensor, seed)
    nz_mg = accelerometer_words(flight.nz_g, seed)
    now_ms = np.rint(flight.time_s * 1000).astype(np.int64)
    nothing = np.zeros_like(now_ms)
    return np.stack([now_ms - now_ms[0], pitot_status, pitot, angled_status, angled, nothing,
                     nz_mg, flight.flap, flight.button], axis=1).astype(np.int32)


def _calibration(arguments: argparse.Namespace, flight: Flight) -> dict | None:
    if arguments.uncalibrated:
        return None
    if arguments.calibration:
        return read_calibration(arguments.calibration, arguments.plumbing)
    return perfect_calibration(flight)


def perfect_calibration(flight: Flight) -> dict:
    """What a perfect capture in every flap setting would store."""
    curves = [{"flap": slot, "points": [list(point) for point in true_calibration(
        flight.airframe, flight.scenario.probe, flight.plumbing, slot)]}
        for slot in range(len(flight.airframe.shapes))]
    return {"plumbing": flight.plumbing, "curves": curves}


def _write(folder: Path, flight: Flight, stream: Stream, out: np.ndarray) -> list[str]:
    """The files of a flight; their names."""
    from host_sim.output.picture import draw
    from host_sim.output.sound import write_wav
    _write_flight(folder / "flight.csv", flight)
    calibrated = _write_calibration(folder / CALIBRATION, stream)
    write_trace(folder / "trace.csv", out)
    draw(folder / "picture.png", out, stream.checked_settings(),
         f"{flight.scenario.title} (simulated, invented aeroplane)", flight.stalls)
    write_wav(folder / "sound.wav", out)
    return ["flight.csv", "trace.csv", *([CALIBRATION] if calibrated else []), "picture.png",
            "sound.wav"]


def _write_calibration(path: Path, stream: Stream) -> bool:
    """What the unit started with. Where that was none, the file of an earlier flight goes: it is
    not this flight's. Never so in a flash folder: there it is the unit's own."""
    if stream.calibration is None:
        if stream.flash is None or path.parent.resolve() != Path(stream.flash).resolve():
            path.unlink(missing_ok=True)
        return False
    with whole_file(path) as temporary:
        temporary.write_text(json.dumps(stream.calibration) + "\n")
    return True


def _written(arguments: argparse.Namespace, folder: Path, written: list[str]) -> str:
    """The line that names the files, and says why there is no calibration among them."""
    line = f"written to {folder}: {', '.join(written)}"
    if CALIBRATION in written:
        return line
    return f"{line}; no {CALIBRATION}: the unit started without one" + (
        f" and keeps what it learns in {arguments.flash}" if arguments.flash else "")


def _write_flight(path: Path, flight: Flight) -> None:
    """The pressures at the sensors, without noise and zero error, as `alula replay` reads them."""
    lines = ["time_s,pitot_pa,angled_pa,nz_g,flap"]
    lines += [f"{t:.3f},{p:.2f},{a:.2f},{n:.4f},{f:d}" for t, p, a, n, f in zip(
        flight.time_s.tolist(), flight.pitot_pa.tolist(), flight.angled_pa.tolist(),
        flight.nz_g.tolist(), flight.flap.tolist(), strict=True)]
    with whole_file(path) as temporary:
        temporary.write_text("\n".join(lines) + "\n")


def _json(flight: Flight, out: np.ndarray, written: list[str]) -> str:
    return json.dumps({"scenario": flight.scenario.title, "samples": len(out),
                       "written": written,
                       "duration_s": float(flight.time_s[-1] - flight.time_s[0]),
                       "stalls_s": [round(stall, 2) for stall in flight.stalls],
                       "seconds": seconds_in_states(out), "changes": as_json(changes(out))})


def _summary(arguments: argparse.Namespace, flight: Flight, out: np.ndarray,
             written: list[str]) -> str:
    stalls = ", ".join(f"{stall:.1f} s" for stall in flight.stalls) or "none"
    return "\n".join([
        f"{flight.scenario.title}: {flight.time_s[-1]:.0f} s simulated, {arguments.plumbing}, "
        f"seed {arguments.seed}, firmware in {arguments.runtime}",
        *([f"fault {arguments.fault}"] if arguments.fault else []),
        *table(changes(out)),
        *capture_story(out),
        "in each state: " + ", ".join(
            f"{word} {seconds:.1f} s" for word, seconds in seconds_in_states(out).items()),
        f"true stalls of the wing: {stalls}",
        *written,
        "An invented aeroplane in invented air: it shows what the unit does, not what yours will. "
        "The unit supplements, and never replaces, the primary stall warning."])
