"""Faults of sensors, hoses and wires, laid over a flight: the table of them, and `inject`."""

import re
from dataclasses import dataclass

import numpy as np

from host_sim.errors import UsageError
from host_sim.world import line_faults, word_faults
from host_sim.world.flight import Flight, differences
from host_sim.world.line_faults import When
from host_sim.world.sensors import DIGITAL, to_words
from host_sim.world.word_faults import COLUMN, NO_REPLY, SENSOR_FAULT, STALE

KINDS = ("word", "line", "switch", "accelerometer")
_ICING_S = (2, 5, 30, 60, 120)
_PITOT, _ANGLED, _BOTH = ("pitot",), ("angled",), ("pitot", "angled")
_PORTS = ("port", "other")  # one head: its ports ice alike
_SUN_PA = 138.0  # case C2: 15 m/s at sea level


@dataclass(frozen=True)
class Fault:
    """text: one line for people. kind: one of `KINDS`, where it acts. seconds: how long it lasts
    by default; 0 is to the end. from_start: by default there from the first tick on."""

    text: str
    kind: str
    change: line_faults.Change | word_faults.Change
    seconds: float = 0.0
    from_start: bool = False


# Faults of the two pressure sensors and their wires: text, change, seconds.
_WORD_FAULTS: dict[str, tuple] = {
    "pitot-silent": ("the pitot sensor does not answer", word_faults.status(_PITOT, NO_REPLY)),
    "angled-silent": ("the angled sensor does not answer",
                      word_faults.status(_ANGLED, NO_REPLY)),
    "both-silent": ("neither sensor answers", word_faults.status(_BOTH, NO_REPLY)),
    "pitot-stale": ("the pitot sensor makes no new conversions",
                    word_faults.status(_PITOT, STALE)),
    "angled-stale": ("the angled sensor makes no new conversions",
                     word_faults.status(_ANGLED, STALE)),
    "pitot-sick": ("the pitot sensor reports a fault",
                   word_faults.status(_PITOT, SENSOR_FAULT)),
    "angled-sick": ("the angled sensor reports a fault",
                    word_faults.status(_ANGLED, SENSOR_FAULT)),
    "pitot-frozen": ("the pitot sensor repeats one word", word_faults.frozen(_PITOT)),
    "angled-frozen": ("the angled sensor repeats one word", word_faults.frozen(_ANGLED)),
    "both-frozen": ("each sensor repeats one word", word_faults.frozen(_BOTH)),
    "pitot-rail": ("the pitot sensor is beyond its range", word_faults.rail("pitot")),
    "angled-rail": ("the angled sensor is beyond its range", word_faults.rail("angled")),
    "twins": ("both sensors send the pitot's word", word_faults.twins),
    "flipped-bit": ("one read in fifty has its top bit flipped", word_faults.flipped_bit, 60),
    "wild-words": ("now and then the least or the greatest word, up to five in a row",
                   word_faults.wild_words, 60),
    "bad-wire": ("three reads in ten fail", word_faults.bad_wire, 10),
    "radio": ("a transmission adds 200 Pa and noise to both sensors",
              word_faults.radio(200.0), 5),
    "radio-negative": ("a transmission takes 200 Pa off both sensors, with noise",
                       word_faults.radio(-200.0), 5),
    "radio-reads": ("a transmission makes three reads in ten fail", word_faults.bad_wire, 5),
    "zero-drift": ("the zeros drift apart, 30 Pa in 20 minutes", word_faults.drift),
    "zero-drifted": ("the zeros are 30 Pa off, opposite ways", word_faults.drifted),
    "sun": ("sun on the pitot sensor: 138 Pa more", word_faults.step("pitot", _SUN_PA), 5),
    "sun-angled": ("sun on the angled sensor: 138 Pa more",
                   word_faults.step("angled", _SUN_PA), 5),
}

# Of these, what acts on the codes of a 14-bit sensor.
_ON_CODES = ("pitot-rail", "angled-rail", "twins", "flipped-bit", "wild-words", "radio",
             "radio-negative", "zero-drift", "zero-drifted", "sun", "sun-angled")

# Faults of hoses and holes, in mid-flight: text, change, seconds.
_LINE_FAULTS: dict[str, tuple] = {
    "pitot-blocked": ("the pitot line is blocked and holds its pressure",
                      line_faults.blocked("pitot")),
    "pitot-blocked-drain": ("the pitot's mouth is blocked, its drain hole is open",
                            line_faults.drained),
    "angled-blocked": ("the angled line is blocked", line_faults.blocked("port")),
    "static-blocked": ("the static line is blocked", line_faults.blocked("static")),
    "pitot-off": ("the pitot hose comes off", line_faults.off("pitot")),
    "angled-off": ("the angled hose comes off", line_faults.off("port")),
    "static-off": ("the static hose comes off", line_faults.off("static")),
    "pitot-leak": ("a joint of the pitot hose works loose", line_faults.leaking("pitot")),
    "angled-leak": ("a joint of the angled hose works loose", line_faults.leaking("port")),
    "pitot-angled-leak": ("air passes between the pitot and the angled line",
                          line_faults.converging),
    "pitot-water": ("water in the pitot line", line_faults.water("pitot"), 20),
    "angled-water": ("water in the angled line", line_faults.water("port"), 20),
    "static-water": ("water in the static line", line_faults.water("static"), 20),
}


def _ice() -> dict[str, Fault]:
    """Ice that closes the holes over so many seconds (case B2)."""
    holes = {"pitot": ("pitot",), "angled": _PORTS, "both": ("pitot", *_PORTS)}
    return {f"{which}-iced-{seconds}": Fault(
        f"ice closes {'all holes alike' if which == 'both' else 'the ' + which} in {seconds} s",
        "line", line_faults.iced(names, seconds))
        for which, names in holes.items() for seconds in _ICING_S}


def _hoses() -> dict[str, Fault]:
    """The five wrong orders of three hoses (case B6): what is on pitot, angled and static."""
    orders = (("port", "pitot", "static"), ("static", "port", "pitot"),
              ("pitot", "static", "port"), ("port", "static", "pitot"),
              ("static", "pitot", "port"))
    shown = {"pitot": "pitot", "port": "angled", "static": "static"}
    return {f"hoses-{number}": Fault(
        "the connectors for pitot, angled and static have the hoses "
        + ", ".join(shown[name] for name in order),
        "line", line_faults.mixed_up(*order), 0.0, True)
        for number, order in enumerate(orders, 1)}


FAULTS = {
    **{name: Fault(row[0], "word", *row[1:]) for name, row in _WORD_FAULTS.items()},
    **{name: Fault(row[0], "line", *row[1:]) for name, row in _LINE_FAULTS.items()},
    **_ice(), **_hoses(),
    "accelerometer-dead": Fault("the accelerometer makes no new conversions", "accelerometer",
                                word_faults.accelerometer_dead),
    "accelerometer-stuck": Fault("the accelerometer repeats one word", "accelerometer",
                                 word_faults.accelerometer_stuck),
    "flap-switch-broken": Fault("no flap switch closes", "switch", word_faults.flap_broken),
    "flap-switch-bounces": Fault("the flap switch wavers", "switch", word_faults.flap_bounces,
                                 20),
}


@dataclass(frozen=True)
class Injection:
    """A fault with its time: rows of the flight from `start` to `stop`, `stop` not included."""

    name: str
    start: int
    stop: int
    at_s: float
    seconds: float

    @property
    def text(self) -> str:
        """A line that says what and when."""
        return f"from {self.at_s:.1f} s for {self.seconds:.1f} s: {FAULTS[self.name].text}"


def when_of(rows: np.ndarray, wanted: str) -> Injection:
    """What NAME, NAME@TIME or NAME@TIME+SECONDS means in a flight; UsageError as `inject`."""
    found = re.fullmatch(r"([a-z0-9-]+)(?:@(\d+(?:\.\d+)?))?(?:\+(\d+(?:\.\d+)?))?", wanted)
    if not found or found[1] not in FAULTS:
        raise UsageError(f"--fault {wanted}: write NAME, NAME@TIME or NAME@TIME+SECONDS; names "
                         f"are {', '.join(FAULTS)}")
    fault = FAULTS[found[1]]
    end_s = float(rows[-1, 0]) / 1000
    least_s = 0.0 if fault.from_start else 2.0
    at_s = float(found[2]) if found[2] else 0.0 if fault.from_start else end_s / 2
    if not least_s <= at_s < end_s:
        raise UsageError(f"--fault {wanted}: the time must lie within {least_s:.0f} and "
                         f"{end_s:.0f} s")
    seconds = float(found[3]) if found[3] else fault.seconds or end_s - at_s
    start, stop = np.searchsorted(rows[:, 0], [at_s * 1000, (at_s + seconds) * 1000]).tolist()
    if not found[3] and not fault.seconds:
        stop = len(rows)  # to the end, the last tick included
    return Injection(found[1], start, max(stop, start + 1), at_s, seconds)


def inject(rows: np.ndarray, wanted: str, seed: int, flight: Flight) -> tuple[np.ndarray, str]:
    """Rows with a fault laid over, and a line that says what and when.

    rows: what the sensors of `flight` sent, with noise of `seed`, as bench rows. wanted: NAME,
    NAME@TIME or NAME@TIME+SECONDS, times in s since the start; without a time the middle of the
    flight, or its start. UsageError for a name or a time that there is not, and for a fault of
    14-bit words where a sensor sends others.
    """
    injection = when_of(rows, wanted)
    if injection.name in _ON_CODES and DIGITAL in (
            flight.scenario.pitot_sensor.output, flight.scenario.angled_sensor.output):
        raise UsageError(f"--fault {wanted}: acts on 14-bit words, and this scenario has a "
                         "24-bit sensor; take another fault")
    changed = lay_over(rows, injection, seed, flight)
    return changed, injection.text


def lay_over(rows: np.ndarray, injection: Injection, seed: int, flight: Flight) -> np.ndarray:
    """As `inject`, for a fault whose time is known. Rows before it stay as they are."""
    fault = FAULTS[injection.name]
    changed = rows.copy()
    span = slice(injection.start, injection.stop)
    when = When(span, (rows[span, 0] - rows[injection.start, 0]) / 1000.0)
    rng = np.random.default_rng([seed, 3])
    if fault.kind != "line":
        fault.change(changed, when, rng)  # type: ignore[arg-type]
        return changed
    lines = {name: pressure.copy() for name, pressure in flight.line_pa.items()}
    fault.change(lines, when, rng)  # type: ignore[arg-type]
    sensors = (flight.scenario.pitot_sensor, flight.scenario.angled_sensor)
    for name, sensor, felt in zip(COLUMN, sensors, differences(flight.plumbing, lines),
                                  strict=True):
        changed[span, COLUMN[name][1]] = to_words(felt, sensor, seed)[0][span]
    return changed
