"""One pressure channel, from raw word to a smooth pressure: despike, then a moving line.

A median of three takes out single wild words; the moving line (`moving_line`) then follows a
steady ramp without lag. Both channels of a unit use the same constants and are divided only
afterwards: the ratio of two alike-smoothed pressures is exact while speed changes.

Time is real. A median is the value of the *middle* of three samples, so it is stamped with that
sample's time; it is laid on a grid of slots one sample period apart, and slots that were skipped
are filled by a straight line. A gap longer than the limit empties the window.
"""

import micropython
from micropython import const

from alula.moving_line import MovingLine
from alula.sample import FRESH, NO_REPLY, STALE
from alula.settings import OUTPUTS, Settings
from alula.transfer import Transfer

RAIL = 5  # beside the driver's own words in `sample`: the word is outside the sensor's band
_AGE_MOST_MS = const(600000)
_HORIZON_MOST_MS = const(300)


class Channel:
    """One pressure: feed it every tick, read `dpa` when `ready`.

    dpa: conditioned pressure, 0.1 Pa, `lead_ms` ahead of now; holds between fresh words.
    ready: the window is full of gap-free data.
    age_ms: time since the last word that could be used.
    same_ms: for so long fresh words have all been the same.
    reason: FRESH, or why the latest word could not be used.
    dropped: a gap emptied the window (the unit then empties the other channel's too).
    word: the latest fresh word. seeded: the despiker has its words.
    middle_dpa: latest despiked pressure.
    """

    def __init__(self, transfer: Transfer, rate_hz: int, window_ms: int, gap_ms: int,
                 lead_ms: int) -> None:
        self._transfer = transfer
        self._period_ms = 1000 // rate_hz
        self._half_period_ms = self._period_ms // 2
        self._line = MovingLine(max(4, window_ms // self._period_ms), self._period_ms)
        self._gap_ms = gap_ms
        self._lead_ms = lead_ms
        self.step_dpa = transfer.step_dpa
        self.zero_dpa = 0
        self.age_ms = 0
        self.reason = NO_REPLY
        self.same_ms = 0
        self.word = -1
        self.clear()

    def clear(self) -> None:
        """Forget the window, not the zero; `ready` again after a window of fresh words."""
        self.ready = False
        self.dropped = False
        self.dpa = 0
        self.seeded = False
        self.middle_dpa = 0
        self._seen = 0
        self._old = 0
        self._older = 0
        self._interval_ms = 0
        self._lag_ms = 0  # time of the latest median after the newest slot
        self._slot_value = 0
        self._line.clear()

    @micropython.native
    def step(self, dt_ms: int, status: int, word: int) -> None:
        """Take in what the driver brought, `dt_ms` after the step before. No allocation."""
        age_ms = self.age_ms + dt_ms
        if age_ms > self._gap_ms and self._seen:
            self.dropped = True
        if status == FRESH:
            if word == self.word:
                if self.same_ms < _AGE_MOST_MS:
                    self.same_ms += age_ms
            else:
                self.word = word
                self.same_ms = 0
            transfer = self._transfer
            if transfer.rail_low < word < transfer.rail_high:
                self.reason = FRESH
                self.age_ms = 0
                if not self.dropped:
                    self._accept(transfer.to_dpa(word) - self.zero_dpa, age_ms)
                return
            status = RAIL
        self.age_ms = age_ms if age_ms < _AGE_MOST_MS else _AGE_MOST_MS
        if status != STALE or self.reason == FRESH:
            self.reason = status

    @micropython.native
    def _accept(self, dpa: int, interval_ms: int) -> None:
        """Despike one good pressure, lay it on the grid, read the line."""
        older = self._older
        old = self._old
        self._older = old
        self._old = dpa
        if self._seen < 2:
            self._seen += 1
            self._interval_ms = interval_ms
            return
        # Median of older, old, dpa.
        if older > old:
            older, old = old, older
        middle = dpa
        if dpa < older:
            middle = older
        elif dpa > old:
            middle = old
        self.middle_dpa = middle
        self.seeded = True
        line = self._line
        lag_ms = self._lag_ms + self._interval_ms - self._period_ms
        if line.full and -self._half_period_ms <= lag_ms < self._half_period_ms:
            line.push(middle)  # the next slot, as nearly always
            self._slot_value = middle
            self._lag_ms = lag_ms
        else:
            self._place(middle, self._interval_ms)
        self._interval_ms = interval_ms
        if line.full:
            horizon_ms = self._lag_ms + interval_ms + self._lead_ms
            self.dpa = line.value(
                horizon_ms if horizon_ms < _HORIZON_MOST_MS else _HORIZON_MOST_MS)
            self.ready = True

    def _place(self, value: int, advance_ms: int) -> None:
        """Lay a median on the grid, `advance_ms` after the median before."""
        line = self._line
        if not line.count:
            line.push(value)
            self._slot_value = value
            return
        lag_ms = self._lag_ms + advance_ms
        skipped = (lag_ms + self._half_period_ms) // self._period_ms
        self._lag_ms = lag_ms - skipped * self._period_ms
        if skipped == 1:
            line.push(value)
        elif skipped > 1:
            start = self._slot_value
            for i in range(1, skipped + 1):
                line.push(start + ((value - start) * i + skipped // 2) // skipped)
        else:
            return  # sooner than half a period: the slot is taken
        self._slot_value = value


def channel_of(settings: Settings, name: str) -> Channel:
    """A pressure channel ("pitot" or "angled") as the settings describe its sensor."""
    transfer = Transfer(
        OUTPUTS[getattr(settings, name + "_output")],
        getattr(settings, name + "_low_dpa"),
        getattr(settings, name + "_high_dpa"),
        -1 if getattr(settings, name + "_sense") else 1)
    return Channel(transfer, settings.sample_rate_hz, settings.window_ms,
                   settings.gap_ms, settings.lead_ms)
