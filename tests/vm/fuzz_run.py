"""One unit, one seed: random words through it, laws checked after every tick. Both interpreters.

Words are made outside the lock, a block at a time; ticks and checks run with the heap locked.
"""

from alula.sample import Sample
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.runtimes.session import fill
from tests.vm.fuzz_setups import FLAPPED, SETUPS, unit_for
from tests.vm.fuzz_watch import LAWS, Watch
from tests.vm.fuzz_words import WIDTH, Words

BLOCK = 400
START_MS = (1 << 30) - 3000  # the counter wraps three seconds into every run
MASK = (1 << 30) - 1


def planted():
    """What a locked heap must refuse."""
    return [1, 2, 3]


class Run:
    """A unit fed from one seed. checksum: over every decision, to compare interpreters."""

    def __init__(self, setup: int, seed: int) -> None:
        self.name = "setup %d seed %d" % (setup, seed)
        self.unit, settings = unit_for(SETUPS[setup])
        self.watch = Watch(self.unit, settings)
        self._words = Words(SETUPS[setup], seed * 64 + setup)
        self._sample = Sample()
        self._rows = self._words.block(0)
        self._at = 0
        self._now_ms = START_MS
        self._owner_turn = seed
        self.ticks = 0
        self.checksum = 0

    def fly(self, ticks: int) -> None:
        """So many ticks; AssertionError names the run, the tick and the law."""
        while ticks > 0:
            count = min(BLOCK, ticks)
            ticks -= count
            self._rows = self._words.block(count)
            self._at = 0
            try:
                run_with_locked_heap(self.step, count)
            except MemoryError:
                print(self.name, "tick", self.ticks, "allocates")
                raise
            except Exception:
                print(self.name, "tick", self.ticks, "raises")
                raise
            assert not self.watch.broken, (
                self.name, "up to tick", self.ticks, LAWS[self.watch.broken])
            self._store()

    def step(self) -> None:
        """One tick. No allocation."""
        rows, at, sample = self._rows, self._at, self._sample
        self._at = at + WIDTH
        now_ms = (self._now_ms + rows[at]) & MASK
        if rows[at] > 0:  # else one stamp that jumps back, and then time goes on
            self._now_ms = now_ms
        fill(sample, rows, at)
        unit = self.unit
        unit.tick(now_ms, sample)
        self.ticks += 1
        self.watch.after(rows[at], sample)
        self.note()

    def note(self) -> None:
        """Add the decision of this tick to the checksum. No allocation."""
        unit = self.unit
        self.checksum = (self.checksum * 31 + unit.state * 7 + unit.health * 59 + unit.voice.level
                         + unit.voice.hz * 13 + unit.lift_pm * 3 + unit.ratio_bp) & MASK

    def _store(self) -> None:
        """The keeper's part: what waits is stored, or cannot be."""
        if self.unit.wants_saving():
            self._owner_turn += 1
            if self._owner_turn % 3 == 0:
                self.unit.give_up_saving()
            elif self.unit.reference_pm >= 0:
                self.unit.adopt_reference(self.unit.reference_pm)
            else:
                self.unit.adopt_curves(((0, FLAPPED),))
