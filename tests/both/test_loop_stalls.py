"""Cases E4, E6, H4: a loop that is held up for 0, 5, 50 or 400 ms at random, near the wrap of the
tick counter; decisions stay those of real time, the sound neither sticks nor stops."""

from alula.sample import FRESH
from alula.states import PRESSING, QUIET, STALLING
from host_sim.bench.virtual_clock import VirtualClock
from tests.both.test_core_loop import Bench

WRAP = 1 << 30
STALLS_MS = (0, 5, 50, 400)


def random_stalls(seed: int, until_ms: int) -> list:
    """[at, length] about once a second."""
    found, at = [], 1500
    while at < until_ms:
        seed = (seed * 1103515245 + 12345) % (1 << 31)
        found.append([at, STALLS_MS[(seed >> 16) % 4]])
        at += 600 + (seed >> 8) % 900
    return found


class Flown(Bench):
    """A bench whose sensors follow real time, whatever holds the loop up."""

    def __init__(self, stalls) -> None:
        Bench.__init__(self, clock=VirtualClock(WRAP - 5000, stalls))
        self.rows = []

    def go(self, until_ms: int, lift_of) -> None:
        """Fly with a lift share that is a function of the time in ms."""
        clock = self.board.clock
        while clock.elapsed_ms() < until_ms:
            self.lift_pm = lift_of(clock.elapsed_ms())
            self.fly(self.lift_pm, 1)
            pwm = self.board.pwm
            self.rows.append((clock.elapsed_ms(), self.unit.state, pwm.hz if pwm.duty else 0))


def stalling_flight(at_ms: int) -> int:
    """Cruise, then up to the stall between 6 and 12 s, held, and back."""
    if at_ms < 6000:
        return 300
    if at_ms < 12000:
        return 300 + 700 * (at_ms - 6000) // 6000
    return 1000 if at_ms < 18000 else max(300, 1000 - (at_ms - 18000) // 4)


def test_e4_decisions_stay_those_of_real_time():
    calm = Flown([])
    calm.go(26000, stalling_flight)
    onset = {state: [at for at, found, _ in calm.rows if found == state][0]
             for state in (PRESSING, STALLING)}
    for seed in range(6):
        held_up = Flown(random_stalls(seed, 26000))
        held_up.go(26000, stalling_flight)
        assert held_up.loop.missed > 0 and held_up.unit.disorders == 0
        for state in (PRESSING, STALLING):
            first = [at for at, found, _ in held_up.rows if found == state][0]
            # a stall of 400 ms, and a window that was emptied by it
            assert -50 <= first - onset[state] <= 400 + 250, (seed, state, first)
        assert held_up.rows[-1][1] == QUIET
        assert not held_up.board.watchdog.check()


def test_h4_the_sound_goes_on_after_every_stall():
    for seed in range(6):
        rig = Flown(random_stalls(seed, 18000))
        rig.go(18000, stalling_flight)
        warble = [(at, hz) for at, state, hz in rig.rows if state == STALLING and at > 12000]
        assert warble and all(hz for _, hz in warble)
        pitches = [hz for _, hz in warble]
        # each of the two pitches comes back within two notes (125 ms each) and the longest stall
        for hz in (1000, 1400):
            times = [at for at, found in warble if found == hz]
            gaps = [times[i] - times[i - 1] for i in range(1, len(times))]
            assert max(gaps) <= 260 + 400, (seed, hz, max(gaps))
        assert len(set(pitches)) == 2


def test_h4_a_block_of_five_seconds_goes_to_the_fault_sound_and_the_watchdog_bites():
    rig = Flown([[9000, 5000]])
    rig.go(8990, lambda at: 300 if at < 3000 else 300 + min(500, (at - 3000) // 10))
    assert rig.unit.state == PRESSING
    pwm = rig.board.pwm
    before = len(pwm.events())
    rig.go(14100, lambda at: 800)
    heard = [event for event in pwm.events()[before:] if event[2]]
    beaten = [(at_us // 1000, hz) for at_us, hz, duty in heard if 9000 <= at_us // 1000 < 14000]
    pair = [at for at, hz in beaten if hz in (900, 600) and at >= 9500]
    assert pair and pair[0] - 9000 <= 650 and len(pair) >= 4  # LIMIT_MS and a timer period
    assert rig.board.watchdog.bites == 1 and rig.board.watchdog.longest_ms >= 5000


def test_e6_a_flight_over_the_wrap_keeps_its_time():
    rig = Flown([])
    rig.go(10000, lambda at: 300)
    assert rig.unit.state == QUIET and rig.loop.missed == 0 and rig.unit.disorders == 0
    assert rig.board.clock.now_ms() < 6000  # past the wrap
    assert rig.unit.pitot.reason == FRESH
