"""Flights that pass every line of the tick, for the bare unit and for the loop on the bench.

Runs in both interpreters: under a locked heap in the MicroPython VM, under a line tracer in
CPython. The scripts are tuples of integers, so stepping through them does not allocate.
"""

from alula.refusal import Refusal
from alula.sample import FLAP_UNCLEAR, FRESH, NO_REPLY, NOT_FITTED, SENSOR_FAULT, STALE, Sample
from alula.transfer import COMPENSATED
from alula.unit import Unit
from assembly import make_loop
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from narrator import Narrator
from tests.both.core_rig import POINTS, settings_with

START_MS = (1 << 30) - 20000  # the tick counter wraps 20 s into every flight
FLAPPED = ((-500, 200), (2000, 500), (7000, 1000))
CURVES = ((0, POINTS), (1, FLAPPED))
RAIL = 100000
SILENT = (NO_REPLY, NOT_FITTED)  # made once: a tuple made in a tick would be an allocation
BOTH = 9  # two flap contacts closed at once; for the bare unit a setting without a curve


def leg(ticks, q, angled, q_to=None, angled_to=None, pitot=FRESH, port=FRESH, flap=0, dt_ms=10,
        button=0):
    """One leg: pressures (0.1 Pa) in straight lines, statuses, flap, the length of a tick, and
    the button."""
    return (ticks, q, q if q_to is None else q_to, angled, angled if angled_to is None
            else angled_to, pitot, port, flap, dt_ms, button)


def lift(share, q=6000):
    """Angled pressure for a lift share on POINTS."""
    return (share - 200) * q // 1000


GROUND = (
    leg(30, 0, 0, pitot=NO_REPLY, port=NO_REPLY),
    leg(150, 60, 40, 60, 240), leg(250, 60, 40),  # a spread that is refused, then a new zero
    leg(100, 60, 40), leg(200, 60, 3000), leg(100, 60, 40),  # a step of the angled port, standing
)
STALLS = (
    leg(300, 60, 40, 6000, 600), leg(2400, 6000, 600),  # calm is due after 20 s
    leg(900, 6000, lift(300), 6000, lift(1500)), leg(100, 6000, lift(1500)),
    leg(300, 6000, lift(1500), 6000, lift(100)), leg(400, 6000, -3000),
    leg(300, 6000, lift(300), 6000, lift(600)), leg(400, 6000, lift(600)),
    leg(300, 6000, lift(300)), leg(300, 6000, lift(300), 6000, lift(850)),
    leg(100, 6000, lift(850), 6000, lift(690)), leg(100, 6000, lift(690)),  # in the hysteresis
    leg(300, 6000, lift(300)),
)
WORDS = (
    leg(9, 6000, 600), leg(1, RAIL, 600), leg(5, 6000, 600), leg(1, 6000, -RAIL),
    leg(5, 6000, 600), leg(1, 20000, 9000), leg(5, 6000, 600), leg(1, 100, -9000),
    leg(40, 6000, 600), leg(40, 6000, 600, pitot=STALE, port=STALE, dt_ms=2),
    leg(60, 6000, 600, dt_ms=2), leg(1, 6000, 600, dt_ms=80), leg(30, 6000, 600),
    leg(1, 6000, 600, dt_ms=0), leg(1, 6000, 600, dt_ms=-30), leg(30, 6000, 600),
    leg(1, 6000, 600, dt_ms=5000), leg(60, 6000, 600), leg(1, 6000, 600, dt_ms=(1 << 29) - 1),
    leg(1, 6000, 600, pitot=NO_REPLY, port=NO_REPLY, dt_ms=(1 << 29) - 1), leg(60, 6000, 600),
)
FAULTS = tuple(
    leg(ticks, 6000, 600, pitot=pitot, port=port)
    for status in (STALE, NO_REPLY, SENSOR_FAULT, NOT_FITTED)
    for pitot, port in ((status, FRESH), (FRESH, status), (status, status))
    for ticks in (80, 0)) + (
    leg(3000, 6000, 600, pitot=NO_REPLY), leg(60, 6000, 600),  # as far as the sparse reminder
    leg(90, RAIL, 600), leg(60, 6000, 600), leg(90, 6000, RAIL), leg(60, 6000, 600),
    leg(90, -RAIL, -RAIL), leg(60, 6000, 600),
) + 12 * (leg(15, 6000, 600, pitot=NO_REPLY), leg(10, 6000, 600)) + (leg(60, 6000, 600),)
LOST = (
    leg(300, 6000, 600, 6000, lift(1000)), leg(1200, 6000, 600, pitot=NO_REPLY),  # past hold_ms
    leg(300, 6000, 600), leg(5, 6000, 600, 0, 0), leg(2700, 0, 0), leg(100, 6000, 600),
    leg(50, 6000, 600, 0, 0), leg(200, 0, 0), leg(100, 6000, 600),
    leg(100, 6000, lift(800)), leg(600, 3300, 1980, 400, 220), leg(300, 400, 220),
    leg(100, 6000, 600),
)
FLAPS = (
    leg(50, 6000, 600), leg(20, 6000, 600, flap=1), leg(5, 6000, 600, flap=0),
    leg(150, 6000, 600, flap=1), leg(100, 6000, 600, 6000, 4000, flap=1),
    leg(100, 6000, 4000, 6000, 600, flap=1), leg(300, 6000, 600, flap=FLAP_UNCLEAR),
    leg(50, 6000, 600, flap=BOTH), leg(300, 6000, 600),
)
LANDINGS = (
    leg(800, 6000, 600, 60, 40), leg(400, 60, 40),  # slowed away
    leg(300, 60, 40, 6000, 600), leg(200, 6000, lift(950)), leg(800, 6000, lift(950), 60, 40),
    leg(600, 60, 40),  # stalling to the very end: stands still
)
PAIRS = (  # in raw words a frozen pitot, a frozen port, a dead port; then a dead pitot
    leg(1200, 6000, 600, 9000, 3000), leg(300, 9000, 3000, 9000, 1200),
    leg(1200, 9000, 1200, 6000, 3000), leg(300, 6000, 3000, 9000, 3000),
    leg(100, 9000, 3000, 6000, 600), leg(1000, 6000, 30, 12000, 50),  # zero is 40
    leg(100, 6000, 600, 6500, 900),
    leg(300, 100, 2000), leg(1200, 100, 100), leg(100, 6000, 600, 6500, 900),
)
DOUBTS = 330 * (leg(3, 6000, 600, pitot=NO_REPLY), leg(2, 6000, 600)) + 330 * (
    leg(3, 6000, 600, port=NO_REPLY), leg(2, 6000, 600)) + 330 * (
    leg(3, 6000, 600, pitot=NO_REPLY, port=NO_REPLY), leg(2, 6000, 600)) + (
    leg(1200, 6000, 600), leg(100, 6000, 600, 6000, -3800), leg(700, 6000, -3800),
    leg(100, 6000, -3800, 6000, 6000),  # outside; then two that answer as one, lively, then still
    leg(1600, 6000, 6000, 12000, 12000), leg(100, 12000, 12000, 12000, 3000),
    leg(1500, 12000, 3000, 9000, 1500), leg(600, 9000, 1500), leg(100, 9000, 1500, 6000, 600))
CHECKED = (  # a short press on the ground begins the checks, flight ends them; one is refused
    leg(300, 60, 40), leg(20, 60, 40, button=1), leg(2600, 60, 40), leg(10, 60, 40, button=1),
    leg(60, 60, 40), leg(200, 60, 40, 6000, 600), leg(100, 6000, 600))
CHECK_REFUSED = (leg(80, 60, 40, pitot=NO_REPLY), leg(20, 60, 40, pitot=NO_REPLY, button=1),
                 leg(60, 60, 40, pitot=NO_REPLY))
LIMITS = (leg(60, 700, 90000), leg(100, 6000, 600))  # a ratio past its clamp
ALL = GROUND + STALLS + WORDS + FAULTS + LOST + FLAPS + DOUBTS + PAIRS + LIMITS + LANDINGS
AIR = (leg(100, 6000, 600), leg(300, 6000, lift(950)), leg(100, 6000, 600))
EDGES = tuple(leg(60, q, angled) for q, angled in (
    (15400, 8000), (900, 8000), (8192, 900), (8192, 15400), (15900, 900), (8800, 8192),
    # 150 Pa and lift 950, then less: one step of so wide a sensor is more than the hysteresis
    (8290, 8266), (8290, 8200), (8094, 8118), (8094, 8184)))


def unit_for(curves, zero, **changes):
    """(unit without its hardware, its settings)."""
    settings = settings_with(**changes)
    return Unit(settings, curves, zero), settings


SENSOR = {"pitot_output": "hsc-a", "angled_output": "hsc-a"}
UNITS = (  # unit, script
    (unit_for(CURVES, (60, 40))[0], ALL),
    (unit_for(CURVES, None, calm_sound="off", plumbing="pitot-port")[0], ALL),
    (unit_for(CURVES, (5000, 5000))[0], GROUND + AIR),
    (unit_for(CURVES, None)[0], AIR),
    (unit_for(CURVES, (0, 0), lead_ms=150, window_ms=400)[0], AIR + LOST),
    (unit_for(None, (0, 0), plumbing="opposed")[0], GROUND + STALLS),
    (unit_for(CURVES, (0, 0), pitot_sense="reversed", angled_sense="reversed", **SENSOR)[0],
     EDGES),
    (unit_for(CURVES, (0, 0), **SENSOR)[0], EDGES),
    (unit_for(CURVES, (0, 0), gap_ms=300, **SENSOR)[0],  # held up, but no gap for the windows
     (leg(100, 9000, 8500), leg(3, 9000, 8500, dt_ms=150), leg(60, 9000, 8500))),
    (unit_for(CURVES, (60, 40), zero_again_ms=10000)[0],  # a second zero, then a windy one
     (leg(50, 60, 40, button=1), leg(1800, 60, 40), leg(1000, 60, 40))),
    (unit_for(CURVES, (60, 40), zero_again_ms=10000)[0], GROUND + (leg(1500, 60, 140),)),
    (unit_for(CURVES, (60, 40))[0], CHECKED),
    (unit_for(CURVES, (60, 40))[0], CHECK_REFUSED),
    (Refusal(), GROUND + (leg(1, 0, 0, dt_ms=0), leg(3000, 0, 0))),
)


class Seen:
    """Which states, health words and levels a flight met."""

    def __init__(self) -> None:
        self.ticks = 0
        self.states = bytearray(8)
        self.healths = bytearray(40)
        self.levels = bytearray(9)

    def note(self, unit) -> None:
        """Once after every tick. No allocation."""
        self.ticks += 1
        self.states[unit.state] = 1
        self.healths[unit.health] = 1
        self.levels[unit.voice.level] = 1


class UnitFlight:
    """A unit stepped through a script."""

    def __init__(self, unit, script, seen: Seen) -> None:
        self.total = sum(row[0] for row in script)
        self._unit = unit
        self._script = tuple(row for row in script if row[0])
        self._seen = seen
        self._sample = Sample()
        self._now_ms = START_MS
        self._at = 0
        self._done = 0

    def step(self) -> None:
        """One tick. No allocation."""
        row = self._script[self._at]
        sample = self._sample
        self._done += 1
        sample.pitot_word = row[1] + (row[2] - row[1]) * self._done // row[0]
        sample.angled_word = row[3] + (row[4] - row[3]) * self._done // row[0]
        sample.pitot_status = row[5]
        sample.angled_status = row[6]
        sample.flap = row[7]
        sample.button = row[9]
        self._now_ms = (self._now_ms + row[8]) & 0x3FFFFFFF
        if self._done == row[0]:
            self._done = 0
            self._at += 1
        self._unit.tick(self._now_ms, sample)
        self._seen.note(self._unit)


class LoopFlight:
    """The real loop and drivers on the bench board, stepped through a script.

    Statuses become what a sensor would do: no conversion, a held bus, diagnostic bits; every
    sixtieth tick is late.
    """

    def __init__(self, script, seen: Seen, accelerometer: str, output: str = "hsc-a") -> None:
        self.total = sum(row[0] for row in script)
        fitted = accelerometer != "none"
        address = 0x76 if output in COMPENSATED else 0x28
        self._compensated = output in COMPENSATED
        self.board = BenchBoard(VirtualClock(START_MS), accelerometer if fitted else None,
                                pitot_address=address, angled_address=address,
                                pitot_output=output, angled_output=output)
        unit, settings = unit_for(
            CURVES, (60, 40), accelerometer=accelerometer, flap_switches=2, pitot_low_dpa=-25000,
            pitot_high_dpa=25000, angled_low_dpa=-25000, angled_high_dpa=25000,
            accelerometer_address=self.board.accel_address if fitted else 24,
            pitot_output=output, angled_output=output, pitot_address=address,
            angled_address=address)
        narrator = Narrator(unit, self.board.console.say)
        self.loop = make_loop(self.board, unit, settings, (narrator,))
        self._script = tuple(row for row in script if row[0])
        self._seen = seen
        self._at = 0
        self._done = 0

    def step(self) -> None:
        """One tick. No allocation."""
        row = self._script[self._at]
        board = self.board
        self._done += 1
        self._feel(board.pitot_sensor, board.pitot_i2c, row[5],
                   row[1] + (row[2] - row[1]) * self._done // row[0])
        self._feel(board.angled_sensor, board.angled_i2c, row[6],
                   row[3] + (row[4] - row[3]) * self._done // row[0])
        if board.accel_chip is not None:
            board.accel_chip.refresh(0, 0, 1000 + self._done)
        board.flap_pins[0].value(0 if row[7] == 0 or row[7] == BOTH else 1)
        board.flap_pins[1].value(0 if row[7] == 1 or row[7] == BOTH else 1)
        if self._done == row[0]:
            self._done = 0
            self._at += 1
        if self._seen.ticks % 60 == 59:
            board.clock.advance_ms(25)
        self.loop.run_once()
        self._seen.note(self.loop.unit)

    def _feel(self, sensor, i2c, status: int, dpa: int) -> None:
        sensor.status_override = 3 if status == SENSOR_FAULT else None
        i2c.fail_next(2 if status in SILENT else 0)
        if status == FRESH and self._compensated:
            sensor.refresh(dpa)
        elif status == FRESH:
            word = (1638 * 50000 + (dpa + 25000) * 13108 + 25000) // 50000
            sensor.refresh(0 if word < 0 else 16383 if word > 16383 else word)


def loop_flights(seen: Seen) -> tuple:
    """The loop with either accelerometer, and with none."""
    return (LoopFlight(ALL, seen, "lis3dh"), LoopFlight(AIR + FAULTS + FLAPS, seen, "adxl345"),
            LoopFlight(AIR + FLAPS, seen, "none"),
            LoopFlight(GROUND + AIR + FAULTS, seen, "lis3dh", "ms5525-001ds"))
