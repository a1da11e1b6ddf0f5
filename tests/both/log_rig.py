"""What the log's tests share: a unit with its log, random streams.

Runs in both interpreters: firmware and bench only.
"""

from alula.flight_log import FlightLog
from alula.log_block import seal
from alula.sample import FLAP_NOT_WIRED, FRESH, NOT_FITTED, Sample
from alula.unit import Unit
from tests.both.core_rig import POINTS, settings_with


class Ticker:
    """What the loop tells of its latest tick."""

    def __init__(self) -> None:
        self.now_ms = 0
        self.missed = 0
        self.sample = Sample()
        self.sample.flap = FLAP_NOT_WIRED


class Random:
    """The same numbers in both interpreters: x' = (x * 1103515245 + 12345) mod 2^31."""

    def __init__(self, seed: int) -> None:
        self._x = seed

    def below(self, most: int) -> int:
        self._x = (self._x * 1103515245 + 12345) & 0x7FFFFFFF
        return (self._x >> 8) % most

    def around(self, most: int) -> int:
        """-most to most."""
        return self.below(2 * most + 1) - most


STEPS_MS = (10,) * 30 + (9, 11, 12, 0, 1, -5, 60, 110, 400, 2500, -40000, (1 << 29) - 1)


def storm(random: Random, now_ms: int, sample: Sample) -> int:
    """The next tick of a stream of everything: changes the sample, returns its time."""
    if random.below(4) == 0:
        sample.pitot_word = random.around(100000)
    else:
        sample.pitot_word += random.around((3, 9, 200)[random.below(3)])
    if random.below(5) == 0:
        sample.angled_word = random.below(16384)
    else:
        sample.angled_word += random.around((3, 9, 200)[random.below(3)])
    if random.below(6) == 0:
        sample.pitot_status, sample.angled_status = random.below(5), random.below(5)
    else:
        sample.pitot_status = sample.angled_status = FRESH
    if random.below(20) == 0:
        sample.nz_status = random.below(5)
    sample.nz_mg += random.around((100, 200, 40000)[random.below(3)])
    if abs(sample.nz_mg) > 100000:
        sample.nz_mg = 0
    if random.below(30) == 0:
        sample.flap, sample.button = random.below(6) - 3, random.below(2)
        sample.temperature_dc = random.around(600)
    return (now_ms + STEPS_MS[random.below(len(STEPS_MS))]) % (1 << 30)


def made_unit(**changes) -> Unit:
    return Unit(settings_with(**changes), ((0, POINTS),), (0, 0))


class Logged:
    """A unit and its log, without a flash: every full block is kept.

    seen: what went in and what came out, a tuple a tick, as the log's rows have it.
    """

    def __init__(self, unit=None, session: int = 1, blocks: int = 2) -> None:
        self.unit = made_unit() if unit is None else unit
        self.log = FlightLog(session, 10, blocks)
        self.blocks = []
        self.seen = []

    def tick(self, now_ms: int, sample: Sample, missed: int = 0) -> None:
        self.unit.tick(now_ms, sample)
        self.log.step(now_ms, sample, self.unit, missed)
        unit, s = self.unit, sample
        self.seen.append((now_ms, s.pitot_status, s.pitot_word, s.angled_status, s.angled_word,
                          s.nz_status, s.nz_mg, s.flap, s.button, s.temperature_dc, unit.state,
                          unit.health, unit.capture.state, unit.capture.verdicts & 255,
                          unit.capture.refusal, missed & 0xFFFF))
        self.collect()

    def collect(self) -> None:
        while self.log.ring.waiting:
            block = self.log.ring.take()
            seal(block)
            self.blocks.append(bytes(block))

    def end(self) -> bytes:
        """The log so far, whole."""
        self.log.end_block()
        self.collect()
        return b"".join(self.blocks)


def stormy(seed: int, ticks: int, start_ms: int = (1 << 30) - 3000, session: int = 1) -> Logged:
    """A logged unit that felt so many ticks of a storm, over the wrap of the counter."""
    logged, random, sample = Logged(None, session), Random(seed), Sample()
    sample.nz_status = NOT_FITTED
    now_ms = start_ms
    for i in range(ticks):
        now_ms = storm(random, now_ms, sample)
        logged.tick(now_ms, sample, i // 50)
    return logged
