"""Started inside the MicroPython VM: a whole capture under a locked heap, arm to READY, with and
without the accelerometer; then one that is refused, cut by a fault, marked by hand, cancelled."""

from alula.sample import FRESH, NO_REPLY, NOT_FITTED, Sample
from alula.unit import Unit
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.capture_rig import RUN, stall_run
from tests.both.core_rig import POINTS, settings_with

CRUISE = (0, 6749, 2330, 1000)
FAST, MUSH, PROMPT = stall_run(rate_ckts=180), stall_run(mush=True), stall_run(hold_bp=150)


class Script:
    """Ticks of a unit, one a `step`; states met are kept."""

    def __init__(self, unit, parts, with_n) -> None:
        """parts: (rows, button, pitot status), rows of `stall_run`."""
        self.unit = unit
        self.rows = [(row, button, status) for rows, button, status in parts for row in rows]
        self.met = bytearray(8)
        self._sample = Sample()
        self._sample.nz_status = FRESH if with_n else NOT_FITTED
        self._at = 0
        self._now_ms = 0

    def step(self) -> None:
        """One tick. No allocation."""
        entry = self.rows[self._at]
        row = entry[0]
        sample = self._sample
        sample.pitot_status, sample.pitot_word = entry[2], row[1]
        sample.angled_status, sample.angled_word = FRESH, row[2] * row[1] // 10000
        sample.nz_mg = row[3]
        sample.button = entry[1]
        self.unit.tick(self._now_ms, sample)
        self.met[self.unit.capture.state] = 1
        self._now_ms += 10
        self._at += 1


def part(rows, button=0, status=FRESH):
    return (rows, button, status)


ARM = (part([CRUISE] * 250), part([CRUISE] * 160, 1), part([CRUISE] * 20))
LEARN = ARM + (part(RUN),) * 3 + (part([CRUISE] * 300),)
ODD = ARM + (
    part(FAST), part(MUSH[:2100]), part([MUSH[2100]] * 260), part([MUSH[2100]] * 20, 1),
    part([CRUISE] * 600), part(RUN[:1000]), part([CRUISE] * 100, 0, NO_REPLY),
    part([CRUISE] * 300), part(RUN[:1500]), part([RUN[1500]] * 6200), part(PROMPT),
    part([CRUISE] * 160, 1), part([CRUISE] * 200))
FLIGHTS = ((LEARN, True, None), (LEARN, False, None), (ODD, True, None),
           (LEARN, True, ((0, POINTS),)), (ODD, False, ((0, POINTS),)))


def main() -> None:
    """Prints, for each flight: ticks, states met, verdicts."""
    for parts, with_n, curves in FLIGHTS:
        unit = Unit(settings_with(flying_q_dpa=2700), curves, (0, 0))
        script = Script(unit, parts, with_n)
        run_with_locked_heap(script.step, len(script.rows))
        print("flown", len(script.rows), "".join(str(n) for n in script.met),
              unit.capture.verdicts)


main()
