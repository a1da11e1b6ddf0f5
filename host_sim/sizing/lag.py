"""Tubes and the whole way from the port to the ear, in time.

A tube's lag: `host_sim.world.plumbing` (laminar, first order, formula from memory), slower in thin
air in proportion to sea-level pressure over pressure. Added up for a sudden change, which is the
worst: the smoothing follows a steady slow-down without lag.
"""

from dataclasses import dataclass

from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Case, Pair
from host_sim.sizing.late import Late, from_reading
from host_sim.sizing.through_firmware import half_rise_ms
from host_sim.sizing.wing import Reader
from host_sim.world.atmosphere import PRESSURE_SEA_PA, static_pressure_pa
from host_sim.world.plumbing import Line

use_firmware()

from alula.settings import Settings  # noqa: E402


@dataclass(frozen=True)
class Delay:
    """Parts of the way, ms: tube of the slower line (lag and sound), age of a sensor's reading,
    wait for the next tick, half-rise of the smoothing, and the sound's edge."""

    tube_ms: float
    sensor_ms: float
    tick_ms: float
    smoothing_ms: float
    sound_ms: float

    @property
    def total_ms(self) -> float:
        """Their sum."""
        return sum(vars(self).values())


def tube_ms(line: Line, height_m: float) -> float:
    """Lag and sound delay of one line at a height, ms."""
    thin = PRESSURE_SEA_PA / float(static_pressure_pa(height_m))
    return 1000.0 * (line.tau_s * thin + line.delay_s)


def mismatch_ms(case: Case) -> float:
    """How much later the angled line is than the pitot's (negative: earlier)."""
    return tube_ms(case.angled_line, case.height_m) - tube_ms(case.pitot_line, case.height_m)


def delay_of(case: Case, pair: Pair, settings: Settings) -> Delay:
    """From the port to the ear."""
    return Delay(max(tube_ms(case.pitot_line, case.height_m),
                     tube_ms(case.angled_line, case.height_m)),
                 max(pair.pitot.response_ms, pair.angled.response_ms),
                 1000.0 / settings.sample_rate_hz, float(half_rise_ms(settings)),
                 float(settings.edge_ms))


def late_by_mismatch(reader: Reader, lift: float, apart_ms: float, rate_kt_s: float) -> Late:
    """In a 1 g slow-down at rate_kt_s, with one line apart_ms later than the other: the sooner
    line's pressure is of now, the later one's of a speed that was higher."""
    wing = reader.wing
    speed_kt = wing.speed_kt(lift)
    then = (wing.case.stall_kt / (speed_kt + rate_kt_s * abs(apart_ms) / 1000.0)) ** 2
    (pitot, angled), (old_pitot, old_angled) = wing.pressures_pa(lift), wing.pressures_pa(then)
    read = (reader.lift_pm(pitot, old_angled) if apart_ms > 0
            else reader.lift_pm(old_pitot, angled))
    return from_reading(reader, lift, read)
