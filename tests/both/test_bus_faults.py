"""Cases A2, A3, E1, beside `test_bus_campaign`: in every sound, both buses at once, garbage of
every kind, other sample rates.

Stated: told `fault_after_ms` (500) and two ticks after the last good word; good again after
release within a second (the bus is clocked free once a second), ten turns (a silent sensor is
asked every tenth turn) and a window.
"""

from alula import figures
from alula.health import WORDS
from alula.states import FAULT, QUIET, STALLING
from loop import REVIVE_EVERY_MS
from tests.both.bus_rig import (
    ADDRESS,
    BANDS,
    SIDES,
    Random,
    flying,
    hold_scl,
    hold_sda,
    i2c_of,
    let_go,
    replace,
)
from tests.both.start_rig import gaps

TOLD_TICKS = 52
BACK_TICKS = (REVIVE_EVERY_MS + 100 + 250) // 10 + 1
FAULT_HZ = figures.FIGURES[figures.CANNOT_KNOW][0]


def test_e1_a_held_line_on_one_bus_or_both_in_every_sound():
    """SDA or SCL for three seconds. The stall sound goes on without a gap; what was silent or
    pressed becomes the fault sound; never is pressing or stalling begun."""
    for hold in (hold_sda, hold_scl):
        for sides, name in ((SIDES[:1], "pitot"), (SIDES[1:], "angled"), (SIDES, "both")):
            for lift_pm, state, silence in BANDS:
                unit = flying(lift_pm)
                assert unit.loop.unit.state == state
                for side in sides:
                    hold(i2c_of(unit, side))
                rows = unit.fly(TOLD_TICKS, lift_pm)
                assert {found for found, _ in rows} <= {state, FAULT}
                rows += unit.fly(300 - TOLD_TICKS, lift_pm)
                told = STALLING if state == STALLING else FAULT
                assert {found for found, _ in rows[TOLD_TICKS:]} == {told}
                assert WORDS[unit.loop.unit.health] == name + "-no-reply"
                if silence is not None:
                    assert max(gaps(rows[:TOLD_TICKS])) <= silence
                if state == STALLING:
                    assert max(gaps(rows)) == 0
                else:
                    assert any(hz == FAULT_HZ for _, hz in rows[TOLD_TICKS:])
                for side in sides:
                    let_go(i2c_of(unit, side))
                unit.fly(BACK_TICKS, lift_pm)
                assert {found for found, _ in unit.fly(300, lift_pm)} == {state}, (name, lift_pm)


def test_e1_a_read_cut_off_at_any_bit_is_back_without_a_power_cycle():
    """The sensor waits in the middle of a byte of its answer, as after a reset of the board."""
    for side in SIDES:
        for bits in ("0", "00a", "0000000", "01010101a0", "00000000a00000000a", "0a11110000a0"):
            unit = flying(1000)
            i2c_of(unit, side).lines.hold(bits)
            rows = unit.fly(BACK_TICKS, 1000)
            assert {state for state, _ in rows} == {STALLING} and max(gaps(rows)) == 0
            assert unit.loop.unit.lift_known and WORDS[unit.loop.unit.health] == "ok", (side, bits)


def test_e1_the_other_channel_goes_on_whatever_one_bus_does():
    """No reply, held, slow, garbage: the other channel's data are never older than two ticks."""
    for side in SIDES:
        for what in ("detached", "held", "slow", "garbage", "reports a fault"):
            unit = flying(300)
            i2c = i2c_of(unit, side)
            if what == "detached":
                i2c.detach(ADDRESS)
            elif what == "held":
                hold_sda(i2c)
            elif what == "slow":
                i2c.call_us = 3000
            elif what == "garbage":
                replace(unit, side, random_bytes(Random(7), 1, 1))
            else:
                i2c.devices[ADDRESS].status_override = 3
            core = unit.loop.unit
            other, blamed = (core.angled, "pitot") if side == "pitot" else (core.pitot, "angled")
            for _ in range(500):
                unit.fly(1, 300)
                assert other.age_ms <= 20
                if core.state == FAULT:
                    assert WORDS[core.health].split("-")[0] in (blamed, "intermittent"), (
                        what, WORDS[core.health])
            assert (core.state == FAULT) == (what != "slow"), (side, what)


def random_bytes(numbers: Random, burst: int, every: int, at: int = 0):
    """Of `every` reads, `burst` in a row carry four random bytes, status bits among them."""
    def answer(number: int, buffer: bytearray) -> None:
        if (number + every - at) % every < burst:
            for i in range(len(buffer)):
                buffer[i] = numbers.below(256)
    return answer


def test_a2_single_random_frames_never_change_what_is_heard():
    """One in fifty for a minute, and one in ten; in every sound, on either channel."""
    for every in (50, 10):
        for lift_pm, state, silence in BANDS:
            for side in SIDES:
                unit = flying(lift_pm)
                replace(unit, side, random_bytes(Random(every + lift_pm), 1, every))
                rows = unit.fly(6000 if every == 50 else 1000, lift_pm)
                assert {found for found, _ in rows} == {state}, (every, lift_pm, side)
                assert silence is None or max(gaps(rows)) <= silence
                assert abs(unit.loop.unit.lift_pm - lift_pm) <= 3


def test_a2_bursts_of_random_frames_end_in_silence_or_an_honest_doubt():
    """Two and five in a row: a stall that sounds goes on sounding, and in cruise no stall sound
    comes of it; five seconds later it is well again."""
    for burst in (2, 5):
        for side in SIDES:
            for seed in range(6):
                for lift_pm, state, _ in (BANDS[0], BANDS[2]):
                    unit = flying(lift_pm)
                    replace(unit, side, random_bytes(Random(seed), burst, 1 << 20, seed % 4))
                    rows = unit.fly(100, lift_pm)
                    assert {found for found, _ in rows} <= {state, FAULT}, (burst, side, seed)
                    assert state == QUIET or {found for found, _ in rows} == {STALLING}
                    assert state == QUIET or max(gaps(rows)) == 0
                    unit.fly(500, lift_pm)  # steps that add up to something: five seconds
                    assert unit.loop.unit.state == state


def test_a2_five_wild_words_in_a_row_begun_at_any_tick_are_not_heard():
    """All of them high, so that the median is wild as well; whichever tick they begin at."""
    for words in ((12666, 11817, 14234, 10856, 11973), (11000,) * 5, (15000,) * 5):
        for side in SIDES:
            for at in range(4):
                unit = flying(300)
                replace(unit, side, in_a_row(words, at))
                rows = unit.fly(150, 300)
                assert {found for found, _ in rows} <= {QUIET, FAULT}, (words, side, at)


def in_a_row(words, at: int):
    """These words from the read number `at` on."""
    def answer(number: int, buffer: bytearray) -> None:
        if at <= number < at + len(words):
            buffer[0], buffer[1] = words[number - at] >> 8, words[number - at] & 255
    return answer


def test_a2_reads_that_fail_by_halves_are_told_and_by_thirds_are_borne():
    """`unsteady_pm` 400 of the reads within `unsteady_ms` 5000."""
    for side in SIDES:
        for good, lost, told in ((2, 1, False), (1, 1, True), (1, 2, True)):
            unit = flying(300)
            i2c = i2c_of(unit, side)
            for _ in range(1100 // (good + lost)):
                i2c.fail_next(lost)
                unit.fly(lost, 300)
                unit.fly(good, 300)
            assert (unit.loop.unit.state == FAULT) == told, (side, good, lost)
            if told:
                assert WORDS[unit.loop.unit.health] == side + "-unsteady"
            unit.fly(1100, 300)
            assert unit.loop.unit.state == QUIET


def test_a3_no_reply_for_any_time_is_no_pressure_made_of_the_zero():
    """Raw sensors with 106 Pa of zero error, that zero stored; 100 ms, 2 s, a minute."""
    for side in SIDES:
        for ticks in (10, 200, 6000):
            unit = flying(300)
            core = unit.loop.unit
            for channel in (core.pitot, core.angled):
                channel.zero_dpa += 1060
            replace(unit, "pitot", offset(280))
            replace(unit, "angled", offset(280))
            unit.fly(600, 300)
            assert core.state == QUIET and abs(core.lift_pm - 300) <= 8
            core_lift = core.lift_pm
            i2c_of(unit, side).fail_next(1 << 20)
            for _ in range(ticks):
                unit.fly(1, 300)
                channel = core.pitot if side == "pitot" else core.angled
                assert not channel.ready or abs(channel.dpa - (
                    6000 if side == "pitot" else 600)) <= 60
                assert not core.lift_known or abs(core.lift_pm - core_lift) <= 2
                assert core.state in (QUIET, FAULT)
            assert (core.state == FAULT) == (ticks > 10)
            i2c_of(unit, side).fail_next(0)
            unit.fly(BACK_TICKS, 300)
            assert core.state == QUIET and abs(core.lift_pm - 300) <= 8


def offset(words: int):
    """A sensor that reads so many words high."""
    def answer(_: int, buffer: bytearray) -> None:
        word = ((buffer[0] & 63) << 8 | buffer[1]) + words
        buffer[0], buffer[1] = buffer[0] & 0xC0 | word >> 8, word & 255
    return answer


def test_e1_told_in_the_same_time_at_every_sample_rate():
    for rate_hz in (50, 100, 125, 200):
        period_ms = 1000 // rate_hz
        for side in SIDES:
            unit = flying(300, sample_rate_hz=rate_hz)
            begun_ms = unit.board.clock.elapsed_ms()
            hold_sda(i2c_of(unit, side))
            while unit.loop.unit.state == QUIET:
                unit.fly(1, 300)
            told_ms = unit.board.clock.elapsed_ms() - begun_ms
            assert 500 - 2 * period_ms <= told_ms <= 500 + 2 * period_ms, (rate_hz, side, told_ms)
            unit.fly(rate_hz * 3, 300)
            let_go(i2c_of(unit, side))
            back_ms = REVIVE_EVERY_MS + 10 * period_ms + 250
            unit.fly(back_ms // period_ms + 1, 300)
            assert unit.loop.unit.state == QUIET, (rate_hz, side)
