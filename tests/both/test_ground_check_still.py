"""A short press begins the ground checks only where the aeroplane stands. Both interpreters."""

from alula import figures, states
from alula.ground_check import steps
from alula.ground_check.stillness import BLOCK_MS, ROUGH_MG, STILL_MS, Stillness
from alula.sample import FRESH, NOT_FITTED, Sample
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.check_rig import Bench
from tests.both.core_rig import settings_with
from tests.both.log_rig import Random
from tests.both.start_rig import stored

SHORT = 200
# q = 1/2 rho v^2 with 1.225 kg/m3, 1 kt = 0.5144 m/s: 10 kt is 16.2 Pa, 15 kt 36.5, 20 kt 64.8.
TAXI_DPA = (162, 365, 648)


class Channel:
    """As much of one as is looked at."""

    def __init__(self) -> None:
        self.ready, self.dpa = True, 0


class Standing:
    """A stillness with its inputs at hand."""

    def __init__(self, known: bool = True) -> None:
        self.pitot, self.angled, self.sample = Channel(), Channel(), Sample()
        self.known = known
        self.watch = Stillness(settings_with(), self.pitot, self.angled, self)

    def run(self, ms: int, nz=None) -> bool:
        """nz: called with the tick's number, milli-g."""
        sample = self.sample
        sample.nz_status = NOT_FITTED if nz is None else FRESH
        for i in range(ms // 10):
            if nz is not None:
                sample.nz_mg = nz(i)
            self.watch.step(10, sample)
        return self.watch.still


def test_still_after_two_seconds_and_at_once_no_more():
    one = Standing()
    assert not one.run(STILL_MS - 10) and one.run(10)
    for channel in (one.pitot, one.angled):
        for sign in (1, -1):
            channel.dpa = sign * 99
            assert one.run(STILL_MS)
            channel.dpa = sign * 100  # ground_q_dpa: what landing takes for standing, too
            assert not one.run(10)
            channel.dpa = 0
            assert not one.run(STILL_MS - 10) and one.run(10)


def test_without_a_zero_what_counts_is_that_nothing_changes():
    """A new unit: the sensors' own zero error is as large as a taxi's pressure."""
    one = Standing(known=False)
    one.pitot.dpa, one.angled.dpa = 300, -250
    assert one.run(STILL_MS + 100)
    one.pitot.dpa = 420
    assert not one.run(100) and one.run(STILL_MS)
    one.known = True  # zeroed: from now on it is known
    assert not one.run(10)


def test_a_window_that_fills_anew_is_no_movement():
    one = Standing()
    assert one.run(STILL_MS)
    one.pitot.ready = False  # its zero has just been taken
    assert one.run(200)
    one.pitot.ready, one.pitot.dpa = True, 200
    assert not one.run(10)


def test_wheels_that_the_accelerometer_feels_are_no_standing():
    """30 mg of noise (standard deviation, as the simulated flights have it) is standing; 100 mg,
    wheels on grass, is not (estimated, no source)."""
    random = Random(3)

    def felt(deviation_mg: int):
        # twelve dice of variance (n*n-1)/12: standard deviation n, mean 0
        return lambda i: 1000 + sum([random.below(deviation_mg + 1) for _ in range(12)]) - (
            6 * deviation_mg)

    one = Standing()
    assert one.run(20000, felt(30))
    assert not one.run(2 * BLOCK_MS, felt(100))
    for _ in range(40):
        assert not one.run(BLOCK_MS, felt(100))
    assert one.run(STILL_MS + 3 * BLOCK_MS, felt(10))
    assert not one.run(2 * BLOCK_MS, lambda i: 1000 + (2 * ROUGH_MG if i % 2 else -2 * ROUGH_MG))


def test_parked_nose_up_is_standing():
    """A tail-dragger at 15 degrees: 1 g times cos 15 is 966 mg; a sensor's own error beside it."""
    one = Standing()
    assert one.run(STILL_MS + 2 * BLOCK_MS, lambda i: 900 + i % 3)


def refused(bench: Bench) -> bool:
    """A short press is answered by the figure of a refusal, and by words; nothing else begins."""
    del bench.figures[:]
    said = len(bench.said)
    bench.press(SHORT)
    told = [line for line in bench.said[said:] if "must stand still" in line]
    return (bench.checks.step == steps.OFF and figures.REFUSED in bench.figures
            and len(told) == 1)


def test_a_press_while_taxiing_begins_nothing():
    bench = Bench()
    for dpa in TAXI_DPA:
        bench.pressures["pitot"] = dpa
        bench.run(1500)
        assert refused(bench), dpa
        assert bench.unit.state == states.QUIET
    bench.pressures["pitot"] = 0
    bench.run(1000)
    assert refused(bench)  # it has only just stopped
    bench.run(1500)
    bench.press(SHORT)
    assert bench.checks.step == steps.ZERO or bench.checks.step == steps.NOISE


def test_a_press_after_standing_is_what_it_was_and_the_console_is_not_asked():
    """Somebody who types a command at a computer knows whether the aeroplane rolls."""
    bench = Bench()
    bench.pressures["pitot"] = 365
    bench.run(1500)
    assert bench.ask("check noise")["ok"] is True


def test_an_uncalibrated_unit_with_no_zero_is_checked_too():
    vault = stored()[0]
    for name in ("calibration", "zero"):
        for ending in (".a", ".b"):
            vault._store._os.files.pop("/" + name + ending, None)
    bench = Bench(vault=vault, ticks=1)
    bench.pressures["pitot"] = -2000  # a first zero of at most 150 Pa is believed: not this one
    bench.run(3500)
    assert not bench.unit.zero.known and bench.unit.state == states.UNCALIBRATED
    bench.press(SHORT)
    assert bench.checks.step != steps.OFF


def test_nothing_is_allocated_while_it_watches():
    bench = Bench(listen=False)
    sample, unit = bench.loop.sample, bench.unit
    walk = Walk(unit, sample, bench.loop.now_ms)
    run_with_locked_heap(walk.step, 2500)
    assert walk.stood > 100 and walk.rolled > 100


class Walk:
    """Stands, rolls, is pressed in both, loses data; without allocating."""

    def __init__(self, unit, sample, now_ms: int) -> None:
        self._unit, self._sample = unit, sample
        self._now_ms = now_ms
        self._zero = sample.pitot_word
        self._at = 0
        self.stood = self.rolled = 0

    def step(self) -> None:
        self._at += 1
        at, sample, unit = self._at, self._sample, self._unit
        self._now_ms = (self._now_ms + 10) & 0x3FFFFFFF
        rolls = 600 < at < 1200
        sample.pitot_word = self._zero + (30 if rolls else 0) + at % 3
        sample.angled_word = self._zero + at % 2
        sample.nz_status = FRESH
        sample.nz_mg = 1000 + (150 if at & 1 and 1500 < at < 1700 else 0)
        sample.button = 1 if 1100 < at < 1120 or 2300 < at < 2320 else 0
        unit.tick(self._now_ms, sample)
        if unit.checks.stillness.still:
            self.stood += 1
        else:
            self.rolled += 1
