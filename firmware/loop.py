"""The fixed-rate loop: wait, read the sensors, let the unit judge, sound it. No allocation."""

from alula.sample import FRESH, NO_REPLY, NOT_FITTED, Sample

STOPPED_HZ = 600  # a steady low note, unlike every sound of the unit: the loop itself has failed


REVIVE_EVERY_MS = 1000


class BusReviver:
    """Clocks a bus free once a second while its pressure sensor does not answer."""

    def __init__(self, bus, period_ms: int) -> None:
        self._bus = bus
        self._ticks = REVIVE_EVERY_MS // period_ms
        self._silent = 0

    def step(self, status: int) -> None:
        """Once a tick, with the sensor's status. Allocates at most when it revives."""
        if status != NO_REPLY:
            self._silent = 0
            return
        self._silent += 1
        if self._silent >= self._ticks:
            self._silent = 0
            self._bus.recover()


class Loop:
    """Runs one unit on one set of hardware, all of it passed in.

    clock: now_ms(), add_ms(a, b), wait_until_ms(deadline) -> lateness in ms.
    pitot, angled: pressure drivers with read(), status, word. accelerometer: the same with
    nz_mg, or None. flaps: setting(). tone: apply(hz, level). heartbeat: beat(). lamp: show(on).
    button: pressed(). watchdog: feed(). buses: I2C buses with recover(), the pitot's and the
    angled sensor's.
    followers: each with step(), called after the tick: what stores and tells.

    missed: deadlines that were missed by a period or more. now_ms, sample: of the latest tick.
    """

    def __init__(self, unit, clock, pitot, angled, accelerometer, flaps, tone, heartbeat, lamp,
                 button, watchdog, buses, period_ms: int, followers=()) -> None:
        self.unit = unit
        self.sample = Sample()
        self.missed = 0
        self.now_ms = 0
        self._clock = clock
        self._pitot = pitot
        self._angled = angled
        self._accelerometer = accelerometer
        self._flaps = flaps
        self._tone = tone
        self._heartbeat = heartbeat
        self._lamp = lamp
        self._button = button
        self._watchdog = watchdog
        self._followers = followers
        self._revivers = (BusReviver(buses[0], period_ms), BusReviver(buses[1], period_ms))
        self._period_ms = period_ms
        self._deadline_ms = clock.now_ms()
        self._warmth_ticks = 0

    def run(self) -> None:
        """Run for ever. On an error the tone goes to a steady low note, never on as it was; then
        the heartbeat takes it over, and the watchdog, no longer fed, restarts the unit."""
        self._deadline_ms = self._clock.now_ms()
        try:
            while True:
                self.run_once()
        except BaseException:  # Ctrl-C on the console, too, must not leave a tone standing
            self._tone.apply(STOPPED_HZ, 8)
            raise

    def run_once(self) -> None:
        """Wait for the next deadline, then one tick. No allocation."""
        clock = self._clock
        late_ms = clock.wait_until_ms(self._deadline_ms)
        now_ms = clock.now_ms()
        if late_ms >= self._period_ms:
            self.missed += late_ms // self._period_ms
            self._deadline_ms = now_ms  # never run after lost time in a hurry
        self._deadline_ms = clock.add_ms(self._deadline_ms, self._period_ms)
        self.now_ms = now_ms
        self._read()
        unit = self.unit
        unit.tick(now_ms, self.sample)
        self._tone.apply(unit.voice.hz, unit.voice.level)
        self._heartbeat.beat()
        self._lamp.show(unit.lamp.on)
        self._watchdog.feed()
        for follower in self._followers:
            follower.step()

    def _read(self) -> None:
        sample = self.sample
        pitot, angled = self._pitot, self._angled
        pitot.read()
        angled.read()
        sample.pitot_status, sample.pitot_word = pitot.status, pitot.word
        sample.angled_status, sample.angled_word = angled.status, angled.word
        accelerometer = self._accelerometer
        if accelerometer is None:
            sample.nz_status = NOT_FITTED
        else:
            accelerometer.read()
            sample.nz_status = accelerometer.status
            if accelerometer.status == FRESH:
                sample.nz_mg = accelerometer.nz_mg
        if pitot.status == FRESH and angled.status == FRESH:
            self._feel_warmth(sample)
        self._revivers[0].step(pitot.status)
        self._revivers[1].step(angled.status)
        sample.flap = self._flaps.setting()
        sample.button = 1 if self._button.pressed() else 0

    def _feel_warmth(self, sample: Sample) -> None:
        """The mean temperature of both sensors, once a second: it is slow."""
        self._warmth_ticks -= 1
        if self._warmth_ticks < 0:
            self._warmth_ticks = 1000 // self._period_ms
            sample.temperature_dc = (
                self._pitot.temperature_dc() + self._angled.temperature_dc()) >> 1
