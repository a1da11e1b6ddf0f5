"""What each step does in a tick, and what it puts into the table."""

from micropython import const

from alula.ground_check import steps
from alula.ground_check.hands import Hands
from alula.ground_check.leak import LeakTest
from alula.ground_check.noise import NoiseTest
from alula.ground_check.puff import PuffTest
from alula.ground_check.results import Results
from alula.ground_check.sounds import COUNT, SoundTour

ZERO_MS, CONFIRM_MS, TIMING_MS, FLASH_MS = const(15000), const(20000), const(10000), const(2000)
LATE_MOST, LONGEST_MS = const(0), const(30)  # own promise: no deadline missed by a whole tick


class Measures:
    """`begin` a step, then `tick` it until it is over (true). results: the table."""

    def __init__(self, settings, pitot, angled, zero, telling) -> None:
        self.results = Results()
        self.puff = PuffTest(settings, pitot.step_dpa, angled.step_dpa)
        self.leak = LeakTest(settings)
        self.noise = NoiseTest(settings, pitot.step_dpa, angled.step_dpa)
        self.sounds = SoundTour(settings)
        self.hands = Hands()
        self._pitot, self._angled, self._zero = pitot, angled, zero
        self._telling = telling
        self._leak_limit_pm = settings.leak_pm
        self._period_ms = 1000 // settings.sample_rate_hz
        self._spent_ms = 0
        self._missed = self._longest_ms = 0

    def begin(self, step: int) -> None:
        """Start a step anew. No allocation."""
        self._spent_ms = 0
        self._missed = self._longest_ms = 0
        self.leak.leave()
        self.hands.begin()
        if step == steps.PUFF:
            self.puff.begin()
        elif step == steps.NOISE:
            self.noise.begin()
        elif step == steps.SOUNDS:
            self.sounds.begin()
        elif steps.LEAK_PITOT <= step <= steps.LEAK_UPPER:
            self.leak.begin(step)
            self._telling.tell_port(steps.PUSH, step - steps.LEAK_PITOT)
        elif step == steps.BUTTON:
            self._telling.tell(steps.PRESS_NOW)

    def tick(self, step: int, dt_ms: int, sample) -> bool:
        """One tick of a step; true when it is over. No allocation."""
        self._spent_ms += dt_ms
        if step <= steps.LEAK_UPPER:
            return self._of_pressures(step, dt_ms, sample)
        if step == steps.SOUNDS:
            return self._sounds(dt_ms)
        if step == steps.LAMP:
            return self._lamp(dt_ms)
        if step == steps.BUTTON:
            self.hands.feel(sample.button)
            return self._spent_ms >= CONFIRM_MS and self.pressed()
        if step == steps.TIMING:
            return self._timing(dt_ms)
        return self._spent_ms >= FLASH_MS  # whoever has the flash puts its rows meanwhile

    def _of_pressures(self, step: int, dt_ms: int, sample) -> bool:
        if step == steps.ZERO:
            return self._took_zero()
        if step == steps.NOISE:
            return self.noise.step(dt_ms, sample) and self._judge_noise()
        if not self._pitot.ready or not self._angled.ready:
            return False  # a window fills anew: what stands there is no pressure
        if step == steps.PUFF:
            return self._puff(dt_ms)
        return self._leak(step, dt_ms)

    def done(self, row: int, passed: bool, number: int, limit: int) -> bool:
        """A row is known; true. No allocation."""
        self.results.put(row, passed, number, limit)
        self._telling.tell(steps.ROW_DONE)
        return True

    def skip(self, row: int) -> None:
        """A row was passed over. No allocation."""
        self.results.note(row, steps.SKIPPED, 0, 0)
        self._telling.tell(steps.ROW_DONE)

    def pressed(self) -> bool:
        """The button was pressed once, or not in time; true."""
        edges = self.hands.edges
        return self.done(steps.ROW_BUTTON, edges == 2, edges, 2)

    def confirm(self, step: int) -> None:
        """Somebody has heard the sounds, or seen the lamp, to the end. No allocation."""
        if step == steps.SOUNDS:
            if self.sounds.at == COUNT:
                self.done(steps.ROW_SOUNDS, True, COUNT, COUNT)
            else:
                self.skip(steps.ROW_SOUNDS)
        elif self.hands.flashes >= self.hands.FLASHES:
            self.done(steps.ROW_LAMP, True, self.hands.FLASHES, self.hands.FLASHES)
        else:
            self.skip(steps.ROW_LAMP)

    def _took_zero(self) -> bool:
        zero = self._zero
        if not zero.taken and not zero.refusals and self._spent_ms < ZERO_MS:
            return False
        most = max(abs(zero.changes_dpa[0]), abs(zero.changes_dpa[1]))
        return self.done(steps.ROW_ZERO, zero.taken > 0, most, zero.limit_dpa)

    def _judge_noise(self) -> bool:
        noise = self.noise
        self.done(steps.ROW_NOISE_PITOT, noise.fits(noise.pitot), noise.pitot.deviation_dpa(),
                  noise.pitot.limit_dpa)
        return self.done(steps.ROW_NOISE_ANGLED, noise.fits(noise.angled),
                         noise.angled.deviation_dpa(), noise.angled.limit_dpa)

    def _puff(self, dt_ms: int) -> bool:
        """There is no way on but by hoses that are right."""
        puff = self.puff
        news = puff.step(dt_ms, self._pitot.dpa, self._angled.dpa)
        if news == steps.ASK_PORT:
            self._telling.tell_port(news, puff.port)
        elif news != steps.NO_NEWS:
            if news >= steps.WRONG:  # or RIGHT
                self.done(steps.ROW_PUFF, news == steps.RIGHT, puff.wiring.mistakes, 0)
            self._telling.tell(news)
        return news == steps.RIGHT

    def _leak(self, step: int, dt_ms: int) -> bool:
        leak, row = self.leak, steps.ROW_LEAK + step - steps.LEAK_PITOT
        news = leak.step(dt_ms, self._pitot.dpa, self._angled.dpa)
        if news == steps.NO_NEWS:
            return False
        if news == steps.LEAK_RESULT:
            self.done(row, leak.lost_pm <= self._leak_limit_pm, leak.lost_pm,
                      self._leak_limit_pm)
        elif news == steps.OTHER_MOVES:
            self.done(row, False, 1000, self._leak_limit_pm)
        elif news == steps.GIVEN_UP:
            self.skip(row)
        self._telling.tell(news)
        if news == steps.NOT_A_TEST or news == steps.TOO_MUCH:  # once more, from stillness
            leak.begin(step)
        return leak.over

    def _sounds(self, dt_ms: int) -> bool:
        tour = self.sounds
        if tour.at < COUNT:
            tour.step(dt_ms)
            self._telling.play(tour)
            if tour.news:
                self._telling.tell(steps.NEXT_SOUND)
            if tour.at == COUNT:
                self._ask_to_confirm()
            return False
        return self._spent_ms >= CONFIRM_MS and self.done(steps.ROW_SOUNDS, False, 0, COUNT)

    def _lamp(self, dt_ms: int) -> bool:
        hands = self.hands
        if hands.flashes < hands.FLASHES:
            self._telling.lamp_blinks = -1 if hands.flash(dt_ms) else -2
            if hands.flashes == hands.FLASHES:
                self._ask_to_confirm()
            return False
        return self._spent_ms >= CONFIRM_MS and self.done(steps.ROW_LAMP, False, 0, hands.FLASHES)

    def _ask_to_confirm(self) -> None:
        self._spent_ms = 0
        self._telling.tell(steps.CONFIRM)

    def _timing(self, dt_ms: int) -> bool:
        if dt_ms > self._longest_ms:
            self._longest_ms = dt_ms
        if dt_ms >= 2 * self._period_ms:
            self._missed += dt_ms // self._period_ms - 1
        if self._spent_ms < TIMING_MS:
            return False
        self.done(steps.ROW_MISSED, self._missed <= LATE_MOST, self._missed, LATE_MOST)
        return self.done(steps.ROW_LONGEST, self._longest_ms <= LONGEST_MS, self._longest_ms,
                         LONGEST_MS)
