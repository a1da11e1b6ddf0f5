"""What the core's tests share: a unit in round numbers, driven through time by what it feels.

Runs in both interpreters: firmware and bench only.
"""

from alula.sample import FLAP_NOT_WIRED, FRESH, Sample
from alula.settings import load
from alula.unit import Unit

# lift_pm = 200 + ratio_bp / 10: the stall is at ratio 0.8, and every test's arithmetic is easy
POINTS = ((0, 200), (8000, 1000))
CRUISE_DPA = 6000  # 600 Pa, about 61 kt
PERIOD_MS = 10


def record(**changes) -> dict:
    """A settings file: words are 0.1 Pa themselves, everything else as delivered."""
    found = {"plumbing": "port-static", "pitot_output": "direct", "angled_output": "direct",
             "pitot_low_dpa": -100000, "pitot_high_dpa": 100000,
             "angled_low_dpa": -100000, "angled_high_dpa": 100000}
    found.update(changes)
    return found


def settings_with(**changes):
    """Checked settings; fails the test that asks for wrong ones."""
    settings, found = load(record(**changes))
    assert not found and not settings.missing, found
    return settings


def angled_for(lift_pm: int, q_dpa: int) -> int:
    """What the angled sensor (port minus static) feels at a lift share, on POINTS."""
    return (lift_pm - 200) * 10 * q_dpa // 10000


class Rig:
    """A unit and its time.

    heard: one row a tick: (ms since the start, state, health, level, hz, lamp).
    """

    def __init__(self, curves=((0, POINTS),), zero=(0, 0), start_ms: int = 0, **changes) -> None:
        self.unit = Unit(settings_with(**changes), curves, zero)
        self.sample = Sample()
        self.sample.flap = FLAP_NOT_WIRED
        self.heard = []
        self._start_ms = start_ms
        self.now_ms = 0

    def feel(self, q_dpa: int, angled_dpa: int, ms: int = PERIOD_MS, step_ms: int = PERIOD_MS,
             pitot: int = FRESH, angled: int = FRESH) -> list:
        """Feel two pressures (0.1 Pa) for so long; returns the new rows of `heard`."""
        sample = self.sample
        sample.pitot_status, sample.pitot_word = pitot, q_dpa
        sample.angled_status, sample.angled_word = angled, angled_dpa
        begin = len(self.heard)
        for _ in range(0, ms, step_ms):
            self.unit.tick((self._start_ms + self.now_ms) % (1 << 30), sample)
            voice = self.unit.voice
            self.heard.append((self.now_ms, self.unit.state, self.unit.health, voice.level,
                               voice.hz if voice.level else 0, self.unit.lamp.on))
            self.now_ms += step_ms
        return self.heard[begin:]

    def fly(self, lift_pm: int, ms: int = PERIOD_MS, q_dpa: int = CRUISE_DPA) -> list:
        """Fly at a lift share for so long."""
        return self.feel(q_dpa, angled_for(lift_pm, q_dpa), ms)

    def glide(self, q_from: int, q_to: int, angled_from: int, angled_to: int, ms: int) -> list:
        """Both pressures in straight lines to new values."""
        begin = len(self.heard)
        for at_ms in range(PERIOD_MS, ms + PERIOD_MS, PERIOD_MS):
            self.feel(q_from + (q_to - q_from) * at_ms // ms,
                      angled_from + (angled_to - angled_from) * at_ms // ms)
        return self.heard[begin:]

    def blind(self, ms: int, pitot: int, angled: int) -> list:
        """Words stay as they are; the statuses do not."""
        return self.feel(self.sample.pitot_word, self.sample.angled_word, ms,
                         pitot=pitot, angled=angled)


def airborne(lift_pm: int = 300, ms: int = 2500, **changes) -> Rig:
    """A rig that was switched on in flight and has finished saying so."""
    rig = Rig(**changes)
    rig.fly(lift_pm, ms)
    return rig


def states(rows) -> list:
    """The states of some rows, without repeats."""
    found = []
    for row in rows:
        if not found or found[-1] != row[1]:
            found.append(row[1])
    return found


def healths(rows) -> list:
    """The health codes of some rows, without repeats."""
    found = []
    for row in rows:
        if not found or found[-1] != row[2]:
            found.append(row[2])
    return found


def levels(rows) -> list:
    """The tone levels of some rows."""
    return [row[3] for row in rows]


def starts_of_sound(rows) -> list:
    """When sound began, ms: level from 0 to more."""
    return [rows[i][0] for i in range(1, len(rows)) if rows[i][3] and not rows[i - 1][3]]
