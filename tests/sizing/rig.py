"""A case and a sensor to begin with; a test changes what it is about."""

from dataclasses import replace

from host_sim.sizing.case import Case, Pair, Sensor
from host_sim.world.plumbing import Line

PSI_PA = 6894.757
SENSOR = Sensor("1 psi", -PSI_PA, PSI_PA, "ms4525-a", 1.0, 1.5, 0.3)


def case_of(sensor: Sensor = SENSOR, **changed) -> Case:
    """The invented two-seater Rill: 42 kt, 120 kt, a 45-degree port."""
    case = Case(42.0, 120.0, 2438.4, "port-static", 45.0, Line(3.5, 3.0), Line(3.0, 3.0),
                (Pair(sensor, sensor),))
    return replace(case, **changed)
