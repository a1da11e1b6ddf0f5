"""The log's bytes, worked out by hand, and what must never happen in a tick.

Case E4: a stall in the loop shows as what it is. Case E6: over the wrap of the counter.
"""

from alula import log_layout as layout
from alula.flight_log import FlightLog, record
from alula.log_block import seal
from alula.log_digest import LogDigest
from alula.log_ring import LogRing
from alula.log_writer import TICK_MOST, LogWriter
from alula.sample import FRESH, NO_REPLY, NO_TEMPERATURE, NOT_FITTED, STALE, Sample
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.log_rig import Random, made_unit, storm, stormy

CONTEXT_END = layout.HEADER_BYTES + layout.CONTEXT_BYTES


class Plain:
    """Anything with attributes."""


def decided(state: int = 0, health: int = 0):
    unit, unit.capture = Plain(), Plain()
    unit.state, unit.health = state, health
    unit.capture.state = unit.capture.verdicts = unit.capture.refusal = 0
    return unit


class Writing:
    """A writer with one open block that began at 100 ms; `bytes` are those of the latest tick."""

    def __init__(self) -> None:
        self.ring = LogRing(2)
        self.writer = LogWriter(self.ring, 7, 10)
        self.writer.begin(100, -3, 250, layout.FLYING)
        self.sample = Sample()
        self.sample.pitot_status = self.sample.angled_status = FRESH
        self.unit = decided()
        self.now_ms = 100
        self._at = CONTEXT_END

    def tick(self, dt_ms: int = 10, missed: int = 0, **changes) -> list:
        for name in changes:
            setattr(self.sample, name, changes[name])
        if self.writer.count:
            self.now_ms += dt_ms
        self.writer.tick(self.now_ms % (1 << 30), self.sample, self.unit, missed)
        return self.more()

    def more(self) -> list:
        end = self.writer.at
        found = list(self.ring.block[self._at:end])
        self._at = end
        return found


def test_a_usual_tick_is_one_byte_two_differences_plus_seven():
    w = Writing()
    assert w.tick(pitot_word=3, angled_word=-2) == [0xA5]  # 3 + 7 and -2 + 7
    assert w.tick() == [0x77]  # nothing changed
    assert w.tick(pitot_word=10, angled_word=-9) == [0xE0]  # +7 and -7


def test_a_larger_difference_follows_the_token_as_a_byte_or_as_32_bits():
    w = Writing()
    assert w.tick(pitot_word=8) == [0xF7, 8]
    assert w.tick(angled_word=-8) == [0x7F, 0xF8]
    assert w.tick(pitot_word=8 + 127, angled_word=-8 - 127) == [0xFF, 0x01, 127, 0x81]
    assert w.tick(pitot_word=135 + 128) == [0xF7, 0x80, 128, 0, 0, 0]
    assert w.tick(angled_word=-135 - 200000) == [0x7F, 0x80, 0xC0, 0xF2, 0xFC, 0xFF]


def test_the_accelerometer_adds_one_byte_while_it_is_fresh():
    w = Writing()
    assert w.tick(nz_status=FRESH, nz_mg=100) == [0xFF, 0x04, 0, 0x77, 100]
    assert w.tick(nz_mg=-27) == [0x77, 0x81]
    assert w.tick(nz_mg=1000) == [0x77, 0x80, 0x03, 0x04, 0, 0]  # +1027
    assert w.tick(nz_status=NOT_FITTED, nz_mg=5) == [0xFF, 0x04, 4, 0xFF, 0x05, 5, 0, 0, 0, 0x77]


def test_what_seldom_changes_is_told_once_before_the_tick():
    w = Writing()
    assert w.tick(pitot_status=NO_REPLY, angled_status=STALE) == [0xFF, 0x20 + 2 * 5 + 1, 0x77]
    assert w.tick(flap=-2, button=1) == [0xFF, 0x03, 0xFE, 1, 0x77]
    assert w.tick(temperature_dc=-15) == [0xFF, 0x06, 0xF1, 0xFF, 0x77]
    w.unit.state, w.unit.health = 2, 31
    assert w.tick() == [0xFF, 0x08, 2, 31, 0x77]
    w.unit.capture.state, w.unit.capture.verdicts, w.unit.capture.refusal = 3, 258, 9
    assert w.tick() == [0xFF, 0x09, 3, 2, 9, 0x77]
    assert w.tick(missed=0x10003) == [0xFF, 0x0B, 3, 0, 0x77]
    assert w.tick(missed=0x10003) == [0x77]


def test_e4_a_stall_of_the_loop_shows_as_long_as_it_was_and_once():
    w = Writing()
    w.tick()
    assert w.tick(dt_ms=15) == [0xFF, 0xC5, 0x77]
    assert w.tick(dt_ms=60) == [0xFF, 0xC0 + 50, 0x77]
    assert w.tick(dt_ms=410) == [0xFF, 0x07, 0x9A, 1, 0, 0, 0x77]
    assert w.tick() == [0x77]
    assert w.tick(dt_ms=-54) == [0xFF, 0x80, 0x77]
    assert w.tick(dt_ms=-55) == [0xFF, 0x07, 0xC9, 0xFF, 0xFF, 0xFF, 0x77]


def test_e6_the_wrap_of_the_counter_is_a_usual_interval():
    w = Writing()
    w.tick()
    w.writer._now_ms = w.now_ms = (1 << 30) - 5
    assert w.tick() == [0x77]
    assert w.now_ms % (1 << 30) == 5


def test_a_digest_is_two_bytes_after_the_tick():
    w = Writing()
    w.tick()
    w.writer.digest(0xBEEF)
    assert w.more() == [0xFF, 0x0A, 0xEF, 0xBE]


def test_a_block_has_header_context_padding_and_checksum():
    w = Writing()
    w.sample.pitot_word, w.sample.nz_mg, w.sample.nz_status = 8192, 1000, FRESH
    w.tick()
    w.tick(pitot_word=8190)
    w.writer.close()
    block = w.ring.take()
    seal(block)
    assert bytes(block[:4]) == b"ALUL" and list(block[4:6]) == [1, 1]
    assert [number(block, at, size) for at, size in ((6, 2), (8, 4), (12, 4), (16, 2))] == [
        7, 0, 100, 2]
    length = number(block, 18, 2)
    # 39 of context; FF 04 00, F7 and 5 for 8192, 5 for 1000; then 57 and 0
    assert length == 39 + 3 + 6 + 5 + 2
    assert set(block[20 + length:4092]) == {0xFF}
    assert number(block, 4092, 4) == crc_by_hand(block[:4092])
    assert crc_by_hand(b"123456789") == 0xCBF43926  # the check value of CRC-32 as in zlib


def number(block, at: int, size: int) -> int:
    return sum([block[at + i] << (8 * i) for i in range(size)])


def crc_by_hand(data) -> int:
    """CRC-32 bit by bit: polynomial 04C11DB7 reflected, start and final XOR of all ones."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def test_the_next_block_says_in_full_how_things_stood():
    w = Writing()
    w.tick(pitot_status=STALE, angled_status=NO_REPLY, pitot_word=-70000, angled_word=16383,
           nz_status=FRESH, nz_mg=-2500, flap=2, button=1, temperature_dc=213, missed=300)
    w.unit.state, w.unit.health = 3, 8
    w.tick(missed=300)
    w.writer.close()
    w.ring.take()
    w.writer.begin(5, -3, 250, layout.ZERO_KNOWN | layout.FLYING)
    context = w.ring.block[20:59]
    assert list(context[:13]) == [STALE, NO_REPLY, FRESH, 1, 2, 3, 8, 0, 0, 0, 0, 10, 3]
    assert [signed(context, at) for at in (13, 17, 21, 31, 35)] == [-70000, 16383, -2500, -3, 250]
    assert [number(context, at, 2) for at in (25, 27, 29)] == [213, 300, 0]


def signed(data, at: int) -> int:
    value = number(data, at, 4)
    return value - (1 << 32) if value >= 1 << 31 else value


def test_the_digest_tells_any_one_value_from_another():
    unit = made_unit()
    voice = unit.voice
    unit.ratio_known = unit.lift_known = True
    unit.ratio_bp, unit.lift_pm, unit.pulse_millihz = -1234, 812, 4100
    voice.hz, voice.level, unit.lamp.on = 700, 8, True
    wanted = 0
    for value in (700, 8, 1, -1234 % 65536, 812, 4100):
        wanted = (wanted * 251 + value) % 65536
    assert digest_of(unit) == wanted
    for thing, name, value in ((voice, "hz", 701), (voice, "level", 7), (unit.lamp, "on", False),
                               (unit, "ratio_bp", -1235), (unit, "lift_pm", 811),
                               (unit, "pulse_millihz", 4101), (unit, "ratio_known", False),
                               (unit, "lift_known", False)):
        kept = getattr(thing, name)
        setattr(thing, name, value)
        assert digest_of(unit) != wanted, name
        setattr(thing, name, kept)


def digest_of(unit) -> int:
    digest = LogDigest()
    digest.take(unit)
    return digest.value


def test_the_ring_gives_up_its_oldest_block_and_counts_it():
    ring = LogRing(3)
    for name in range(6):
        ring.block[0] = name
        ring.advance()
        assert ring.waiting == min(name + 1, 2)
    assert ring.dropped == 4
    ring.block[0] = 6
    taken = ring.take()
    assert taken[0] == 4
    for name in (6, 7, 8, 9):  # whatever comes in meanwhile, what was taken stays as it is
        ring.block[0] = name
        ring.advance()
    assert taken[0] == 4
    assert [ring.take()[0], ring.take()[0], ring.waiting] == [8, 9, 0]


def test_no_tick_needs_more_than_what_is_kept_free_at_the_end_of_a_block():
    w = Writing()
    w.sample.nz_status = NO_REPLY
    w.tick()
    w.unit.state, w.unit.health = 1, 1
    w.unit.capture.state = w.unit.capture.verdicts = w.unit.capture.refusal = 1
    most = len(w.tick(dt_ms=-400, missed=1, pitot_status=STALE, angled_status=STALE, flap=3,
                      button=1, temperature_dc=5, pitot_word=1 << 20, angled_word=1 << 20,
                      nz_status=STALE, nz_mg=9999))
    fresh = len(w.tick(dt_ms=900, missed=2, pitot_status=FRESH, flap=4, temperature_dc=6,
                       pitot_word=0, angled_word=0, nz_status=FRESH, nz_mg=-9999))
    assert max(most, fresh) + 2 * 4 <= TICK_MOST  # with the digest of a second, and the last one


def test_a_change_stands_in_a_block_of_its_own_between_the_ticks():
    log, unit, sample = FlightLog(3, 10, 4), made_unit(), Sample()
    log.step(10, sample, unit, 0)
    log.change(4, 1, b"\x01\x02\x03")
    log.step(20, sample, unit, 0)
    log.end_block()
    kinds, sequences, changes = [], [], []
    while log.ring.waiting:
        block = log.ring.take()
        kinds.append(block[5])
        sequences.append(number(block, 8, 4))
        if block[5] == layout.DATA:
            changes.append(block[30])
        else:
            assert bytes(block[20:27]) == b"\x04\x01\x03\x00\x01\x02\x03" == record(
                4, 1, b"\x01\x02\x03")
    assert kinds == [layout.DATA, layout.CHANGE, layout.DATA]
    assert sequences == [0, 1, 2] and changes == [0, 1]


def test_every_tick_is_under_one_digest_and_blocks_are_numbered_without_a_gap():
    logged = stormy(5, 3000)
    logged.end()
    assert [number(block, 8, 4) for block in logged.blocks] == list(range(len(logged.blocks)))
    assert sum([number(block, 16, 2) for block in logged.blocks]) == 3000
    assert all(block[:4] == b"ALUL" and len(block) == 4096 for block in logged.blocks)
    assert logged.log.ring.dropped == 0


def test_a_tick_allocates_nothing_whatever_comes_in():
    log, unit, sample, random = FlightLog(1, 10, 2), made_unit(), Sample(), Random(3)
    sample.nz_status = NOT_FITTED
    time = [0, 0]

    def step() -> None:
        time[0] = storm(random, time[0], sample)
        time[1] += 1
        unit.tick(time[0], sample)
        log.step(time[0], sample, unit, time[1])
        if time[1] % 997 == 0:  # as after a landing
            log.end_block()
            log.end_block()

    run_with_locked_heap(step, 5000)  # block after block, the ring full all the while
    assert log.ring.dropped > 5
    assert sample.temperature_dc != NO_TEMPERATURE
