"""Builds the unit and its loop from a board and the stored records. Runs once, at start-up."""

from alula import calibration
from alula.json_records import zero_of
from alula.refusal import Refusal
from alula.settings import Settings, load
from alula.transfer import COMPENSATED
from alula.unit import Unit
from drivers.accelerometer import Accelerometer
from drivers.button import Button
from drivers.flap_switches import FlapSwitches
from drivers.heartbeat import PERIOD_MS as HEARTBEAT_MS
from drivers.heartbeat import Heartbeat
from drivers.lamp import Lamp
from drivers.pressure_14bit import Pressure14Bit
from drivers.pressure_ms5525 import PressureMs5525
from drivers.tone_pwm import TonePwm
from drivers.watchdog import Watchdog
from loop import Loop

WATCHDOG_MS = 2000


def make_unit(settings_record, calibration_record, zero_record) -> tuple:
    """(unit, settings, remarks): the unit the records allow, and a line for each thing amiss.

    Wrong or incomplete settings give a `Refusal`; a calibration that is missing or does not hold
    gives an uncalibrated unit. Nothing is replaced by a value that only looks valid.
    """
    settings, found = load({} if settings_record is None else settings_record)
    remarks = ["settings: %s %s" % pair for pair in found]
    if not found:
        remarks += ["settings: %s is not set" % name for name in settings.missing]
    if remarks:
        return Refusal(), Settings(), remarks
    curves = None
    if calibration_record is None:
        remarks.append("calibration: none; fly the guided capture")
    else:
        found = calibration.problems(calibration_record, settings.word("plumbing"))
        remarks += ["calibration: %s %s" % pair for pair in found]
        if not found:
            curves = calibration.curves_of(calibration_record)
            remarks += _flap_remarks(curves, settings.flap_switches)
    zero, problem = zero_of(zero_record)
    if problem:
        remarks.append("zero: " + problem)
    return Unit(settings, curves, zero), settings, remarks


def _flap_remarks(curves, switches: int) -> list:
    """Curves that no flap switch can ever ask for."""
    return ["calibration: flap %d has no switch; number curves as the switches, 0 to %d"
            % (flap, switches - 1) for flap, _ in curves if switches and flap >= switches]


def _pressure(board, settings: Settings, side: str):
    """The driver for the family of a side's sensor, "pitot" or "angled"."""
    bus, address = getattr(board, side + "_bus"), getattr(settings, side + "_address")
    output = settings.word(side + "_output")
    if output in COMPENSATED:
        return PressureMs5525(bus, address, COMPENSATED.index(output), board.clock,
                              1000 // settings.sample_rate_hz)
    return Pressure14Bit(bus, address)


def make_loop(board, unit, settings: Settings, followers=()) -> Loop:
    """The loop that runs a unit on a board's hardware; followers: see `Loop`."""
    watchdog = Watchdog(board.make_watchdog, WATCHDOG_MS)  # before the first call on a bus
    if not watchdog.start():
        print("watchdog: not running; a stopped program would not restart")
    tone = TonePwm(board.pwm)
    heartbeat = Heartbeat(board.pwm, tone)
    board.start_timer(HEARTBEAT_MS, heartbeat.tick)
    accelerometer = None
    if settings.accelerometer:
        accelerometer = Accelerometer(
            board.accel_bus, settings.accelerometer_address, settings.accelerometer,
            settings.accelerometer_axis, -1 if settings.accelerometer_sense else 1)
        accelerometer.start()
    return Loop(
        unit, board.clock,
        _pressure(board, settings, "pitot"), _pressure(board, settings, "angled"),
        accelerometer, FlapSwitches(board.flap_pins[:settings.flap_switches]),
        tone, heartbeat, Lamp(board.lamp_pin), Button(board.button_pin), watchdog,
        (board.pitot_bus, board.angled_bus), 1000 // settings.sample_rate_hz, followers)
