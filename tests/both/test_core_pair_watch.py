"""Cases A4 and B1: a frozen channel, a plugged probe; and the healthy things that look alike."""

from alula import health
from alula.sample import FRESH, Sample
from alula.settings import load
from alula.states import FAULT, PRESSING, QUIET, STALLING
from alula.unit import Unit
from tests.both.core_rig import POINTS

MIDDLE, COUNT_DPA = 8192, 10.52  # hsc-a over +-1 psi: 13108 counts for 13789.5 Pa
SETTINGS = {"plumbing": "port-static", "pitot_output": "hsc-a", "angled_output": "hsc-a",
            "pitot_low_dpa": -68948, "pitot_high_dpa": 68948,
            "angled_low_dpa": -68948, "angled_high_dpa": 68948}


class Raw:
    """A unit with two raw sensors. Words tell pressures in 0.1 Pa, with a little noise."""

    def __init__(self, **changes) -> None:
        settings, found = load(dict(SETTINGS, **changes))
        assert not found
        self.unit = Unit(settings, ((0, POINTS),), (0, 0))
        self.sample = Sample()
        self.sample.pitot_status = self.sample.angled_status = FRESH
        self.now_ms = 0
        self.states = []
        self.frozen = {}
        self.twins = False

    def feel(self, ms: int, q_dpa, angled_dpa, noise: int = 1) -> None:
        """Pressures as functions of the time in ms since the call, or constants."""
        for at in range(0, ms, 10):
            q = q_dpa(at) if callable(q_dpa) else q_dpa
            a = angled_dpa(at) if callable(angled_dpa) else angled_dpa
            wobble = (self.now_ms // 10 * 7919) % (2 * noise + 1) - noise if noise else 0
            self.sample.pitot_word = self._word("pitot", q, wobble)
            self.sample.angled_word = self._word("angled", a, -wobble)
            if self.twins:
                self.sample.angled_word = self.sample.pitot_word
            self.unit.tick(self.now_ms, self.sample)
            self.states.append((self.now_ms, self.unit.state, health.WORDS[self.unit.health]))
            self.now_ms += 10

    def _word(self, name: str, dpa: int, wobble: int) -> int:
        word = MIDDLE + round(dpa / COUNT_DPA) + wobble
        return self.frozen.setdefault(name, word) if name in self.frozen else word

    def freeze(self, name: str) -> None:
        self.frozen[name] = getattr(self.sample, name + "_word")

    def thaw(self) -> None:
        self.frozen = {}

    def when(self, state: int, word: str):
        """When it first said so, ms, or None."""
        for at, found, why in self.states:
            if found == state and why == word:
                return at
        return None


def flying(lift_pm: int = 400) -> Raw:
    rig = Raw()
    rig.feel(11000, 6000, (lift_pm - 200) * 6)
    assert rig.unit.state == QUIET and rig.unit.phase.flying
    return rig


def swing(at: int) -> int:
    """A slow change by half and back, in 8 s."""
    return 6000 - 3000 * (4000 - abs(at % 8000 - 4000)) // 4000


def test_a4_a_frozen_channel_is_a_fault_in_time_and_the_right_one_is_named():
    for name, q, a in (("pitot", 6000, lambda at: 1200 + at // 4),
                       ("angled", lambda at: 6000 - at // 4, 1200)):
        rig = flying()
        rig.freeze(name)
        begun = rig.now_ms
        rig.feel(4000, q, a)
        told = rig.when(FAULT, name + "-frozen")
        # frozen_ms 2000, fault_after_ms 500, a look every 100
        assert told is not None and told - begun <= 2700, (name, told)
        rig.thaw()
        rig.feel(3000, 6000, 1200)
        assert rig.unit.state == QUIET and rig.states[-1][2] == "ok"


def test_a4_a_short_freeze_is_no_fault():
    for ms in (200, 1500):
        rig = flying()
        rig.freeze("pitot")
        rig.feel(ms, 6000, lambda at: 1200 + at // 4)
        rig.thaw()
        rig.feel(1000, 6000, 1200)
        assert all(state == QUIET for _, state, _ in rig.states[20:])


def test_a4_both_still_in_still_air_is_no_fault():
    rig = Raw()
    rig.feel(60000, 6000, 1200, noise=0)
    assert all(state == QUIET for _, state, _ in rig.states[20:])


def test_a4_two_lively_sensors_that_fall_still_together_are_frozen():
    rig = flying()
    begun = rig.now_ms
    rig.feel(60000, 6000, 1200, noise=0)
    told = rig.when(FAULT, "both-frozen")
    # twice frozen_ms 2000, fault_after_ms 500, a look every 100
    assert told is not None and told - begun <= 4700
    rig.feel(1000, 6000, 1200)
    assert rig.unit.state == QUIET


def test_two_sensors_that_answer_as_one_are_found():
    rig = flying()
    begun = rig.now_ms
    rig.twins = True
    rig.feel(8000, 6000, 1200)
    told = rig.when(FAULT, "twins")
    # frozen_ms 2000 of equal words; until then it is a step of the angled channel
    assert told is not None and told - begun <= 2200
    assert rig.when(FAULT, "angled-jump") - begun <= 600
    assert {state for at, state, _ in rig.states if at > told} == {FAULT}


def test_a4_a_port_near_zero_may_repeat_itself_while_the_speed_changes():
    """Ratio 0 at any dynamic pressure: the same word, and nothing wrong."""
    rig = flying(200)
    rig.feel(6000, lambda at: 6000 + at // 4, 0, noise=0)
    assert all(state == QUIET for _, state, _ in rig.states[20:])


def test_a4_a_quiet_sensor_cannot_freeze():
    """Words without noise repeat themselves: this port feels the same at each speed."""
    rig = Raw()
    rig.feel(12000, 6000, 1200, noise=0)
    rig.feel(8000, lambda at: 6000 - at // 4, 1200, noise=0)
    assert all(state == QUIET for _, state, _ in rig.states[20:])


def test_a4_a_quiet_sensor_beside_a_noisy_one_is_no_fault():
    rig = flying()
    rig.freeze("pitot")
    rig.feel(60000, 6000, 1200, noise=8)  # the other one: +-8 Pa of noise, smoothed
    assert all(state == QUIET for _, state, _ in rig.states[20:])


def test_h3_a_stall_that_sounds_goes_on_when_a_channel_freezes():
    rig = flying()
    rig.feel(1000, 6000, lambda at: 1200 + (4500 - 1200) * at // 1000)
    rig.feel(2000, 6000, (950 - 200) * 6)
    assert rig.unit.state == STALLING
    rig.freeze("pitot")
    rig.feel(20000, 6000, lambda at: (950 - 200) * 6 + at // 4)
    assert all(state in (STALLING, FAULT) for _, state, _ in rig.states[-2000:])
    assert rig.unit.state == FAULT and rig.states[-1][2] == "pitot-frozen"


def test_b1_a_plugged_pitot_on_the_take_off_run_is_blind_and_says_so():
    rig = Raw()
    rig.feel(3000, 0, 0)
    assert rig.unit.state == QUIET
    begun = rig.now_ms
    # q stays 0 to 30 Pa while the angled channel climbs to its climb value, 120 Pa in 15 s
    rig.feel(15000, lambda at: at // 50, lambda at: at * 1200 // 15000)
    told = rig.when(FAULT, "pitot-dead")
    # 60 Pa are reached after 7.5 s; dead_ms 1000, a look every 100, the smoothing
    assert told is not None and told - begun <= 9000
    assert all(state not in (PRESSING, STALLING) for _, state, _ in rig.states)
    assert rig.unit.state == FAULT


def test_b1_a_plugged_angled_port_is_found_when_the_speed_changes():
    rig = flying(200)  # ratio 0 at this speed
    begun = rig.now_ms
    rig.feel(12000, swing, 0)
    told = rig.when(FAULT, "angled-dead")
    # near zero for eight times dead_ms
    assert told is not None and told - begun <= 9000
    rig.feel(2000, 6000, 1200)
    assert rig.unit.state == QUIET


def test_b1_brothers_that_are_healthy():
    """Parked in gusts; a tail wind; a cruise whose ratio happens to be zero."""
    rig = Raw()
    rig.feel(60000, lambda at: 160 + (at // 10 * 37) % 200 - 100, lambda at: (at // 10 * 53) % 90)
    assert all(state == QUIET for _, state, _ in rig.states)
    rig = Raw()
    rig.feel(60000, lambda at: -(at // 10 * 37) % 400, lambda at: (at // 10 * 53) % 300 - 150)
    assert all(state == QUIET for _, state, _ in rig.states)
    rig = flying(200)
    rig.feel(60000, lambda at: 6000 + 600 * abs(at % 8000 - 4000) // 4000, 0)
    assert all(state == QUIET for _, state, _ in rig.states[20:])
