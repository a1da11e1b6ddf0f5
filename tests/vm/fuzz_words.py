"""Random flights, word by word: the same in both interpreters for the same seed.

Not white noise alone, which never gets past the first fault: stretches of flying, slowing down,
stalling and standing, and over them held words, wandering words, rails, bursts, storms of
statuses, odd ticks, a restless button and loose flap switches.
"""

from array import array

from alula.sample import FRESH, NO_REPLY, NOT_FITTED, SENSOR_FAULT, STALE
from tests.vm.fuzz_setups import word_of

WIDTH = 9  # dt_ms, pitot status, word, angled status, word, nz status, mg, flap, button
STATUSES = (STALE, NO_REPLY, SENSOR_FAULT, NOT_FITTED)
ODD_TICKS_MS = (1, 1, 2, 3, 7, 15, 19, 25, 39, 41, 60, 61, 99, 101, 150, 299, 301, 400, 700, 1001,
                1500, 0, -5, -40000)
FLAPS = (-2, -1, 0, 1, 2, 20, 99)
WILD_MG = (0, 1000, -1000, 16000, -16000, 32767, -32767, 4000)


class Dice:
    """Numbers by a linear congruence (constants as in ISO C's example of `rand`)."""

    def __init__(self, seed: int) -> None:
        self._state = seed & 0x7FFFFFFF
        for _ in range(4):
            self.below(2)

    def below(self, most: int) -> int:
        """0 to most - 1; most up to 2^22."""
        self._state = (self._state * 1103515245 + 12345) & 0x7FFFFFFF
        return (self._state >> 8) * most >> 23

    def between(self, least: int, most: int) -> int:
        """Both ends can come."""
        return least + self.below(most - least + 1)

    def one_in(self, count: int) -> bool:
        return self.below(count) == 0

    def of(self, choices):
        return choices[self.below(len(choices))]


class Pressure:
    """One channel: a pressure on its way to another, and what is wrong with its words."""

    def __init__(self, dice: Dice, setup, side: str) -> None:
        self._dice = dice
        self._setup = setup
        self._side = side
        self.dpa = 0
        self.to_dpa = 0
        self.ticks = 1
        self._noise = 3
        self._trouble = "none"
        self._trouble_ticks = 0
        self._word = 0

    def go(self, dpa: int, to_dpa: int, ticks: int, noise: int) -> None:
        """From one pressure to another in so many ticks."""
        self.dpa, self.to_dpa, self.ticks, self._noise = dpa, to_dpa, ticks, noise

    def spoil(self, calm: bool) -> None:
        """Choose what is wrong next, if anything."""
        dice = self._dice
        if calm or dice.below(3):
            self._trouble = "none"
            self._trouble_ticks = 60
            return
        self._trouble = dice.of(("held", "rail", "burst", "walk", "white", "storm", "silent",
                                 "stale", "held", "single", "loose"))
        self._trouble_ticks = dice.of((3, 20, 60, 150, 400, 1500))

    def step(self) -> int:
        """The next word; its status is `status`."""
        dice, kind = self._dice, self._trouble
        self._trouble_ticks -= 1
        if self._trouble_ticks < 0:
            self.spoil(dice.one_in(2))
        self.dpa += (self.to_dpa - self.dpa) // self.ticks
        self.ticks = max(1, self.ticks - 1)
        self.status = FRESH
        if kind == "storm":
            self.status = dice.of(STATUSES + (FRESH, FRESH))
        elif kind == "loose":  # a bad wire: many reads fail, never for long
            self.status = FRESH if dice.one_in(2) else NO_REPLY
        elif kind in ("silent", "stale"):
            self.status = NO_REPLY if kind == "silent" else STALE
        if kind != "held":
            self._word = self._next_word(kind)
        return self._word

    def _next_word(self, kind: str) -> int:
        dice = self._dice
        good = word_of(self._setup, self._side,
                       self.dpa + dice.between(-self._noise, self._noise))
        if kind == "rail":
            return dice.of((0, 16383, 100000, -100000, 120000, -120000))
        if kind == "white" or kind == "single" and dice.one_in(25):
            return dice.below(16384)
        if kind == "burst" and dice.one_in(2):
            return good + dice.between(-2000, 2000)
        if kind == "walk":
            return self._word + dice.between(-40, 40)
        return good


class Words:
    """Rows of input for one unit, a block at a time."""

    def __init__(self, setup, seed: int) -> None:
        self._dice = Dice(seed)
        self._setup = setup
        self.pitot = Pressure(self._dice, setup, "pitot")
        self.angled = Pressure(self._dice, setup, "angled")
        self._period_ms = 1000 // setup[0].get("sample_rate_hz", 100)
        self._leg_ticks = 0
        self._flap, self._button, self._button_ticks = 0, 0, 0
        self._calm = True
        self._odd_time = False
        self._bus = FRESH  # what both sensors say while the bus they share is in trouble

    def block(self, rows: int) -> array:
        """So many rows, flat."""
        found = array("i", [0] * (rows * WIDTH))
        for i in range(rows):
            self._row(found, i * WIDTH)
        return found

    def _row(self, found: array, at: int) -> None:
        dice = self._dice
        if self._leg_ticks <= 0:
            self._leg()
        self._leg_ticks -= 1
        found[at] = self._period_ms
        if dice.one_in(4 if self._odd_time else 400):
            found[at] = dice.of(ODD_TICKS_MS)
        found[at + 2] = self.pitot.step()
        found[at + 1] = self.pitot.status if self._bus == FRESH else self._bus
        found[at + 4] = self.angled.step()
        found[at + 3] = self.angled.status if self._bus == FRESH else self._bus
        found[at + 5] = FRESH if not dice.one_in(20) else dice.of(STATUSES)
        found[at + 6] = (1000 + dice.between(-200, 200) if not dice.one_in(10)
                         else dice.of(WILD_MG))
        self._hands()
        found[at + 7], found[at + 8] = self._flap, self._button

    def _leg(self) -> None:
        """The next stretch of flight: where the two pressures go, and how evil it may get."""
        dice = self._dice
        self._calm = dice.below(3) > 0
        self._odd_time = dice.one_in(6)
        self._bus = dice.of(STATUSES) if dice.one_in(12) else FRESH
        self._leg_ticks = ticks = dice.of((50, 120, 300, 800) if self._bus == FRESH else (20, 150))
        q_dpa = dice.of((0, 0, 60, 400, 1000, 2000, 3500, 6000, 6000, 20000, 90000))
        ratio_bp = dice.of((-30000, -5000, 0, 1000, 3000, 4500, 5500, 6200, 7500,
                            9000, 14000))
        noise = dice.of((0, 2, 2, 10, 300))
        start = self.pitot.dpa if dice.below(3) else q_dpa
        self.pitot.go(start, q_dpa, dice.of((1, 40, ticks)), noise)
        to_dpa = self._angled_for(q_dpa, ratio_bp)
        self.angled.go(self.angled.dpa, to_dpa, dice.of((1, 40, ticks)), noise)
        self.pitot.spoil(self._calm)
        self.angled.spoil(self._calm)

    def _angled_for(self, q_dpa: int, ratio_bp: int) -> int:
        """What the angled sensor feels at a ratio, by how it is plumbed."""
        if self._setup[0].get("plumbing") == "pitot-port":
            ratio_bp = 10000 - ratio_bp
        return max(-100000, min(100000, q_dpa * ratio_bp // 10000))

    def _hands(self) -> None:
        """Button and flap switches."""
        dice = self._dice
        self._button_ticks -= 1
        if self._button_ticks < 0:
            self._button = 0 if self._button else 1
            self._button_ticks = dice.of((1, 3, 40, 90, 250) if self._button
                                         else (2, 30, 600, 3000))
        if dice.one_in(3 if self._odd_time else 900):
            self._flap = dice.of(FLAPS)
