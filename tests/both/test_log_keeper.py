"""When the log is written, and what it costs. Case E4: no erase while a warning sounds."""

from alula import log_layout, states
from alula.record_payloads import REFERENCE
from alula.settings import load
from alula.stall_capture import capture as stages
from drivers.log_files import LogFiles, file_name
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.fake_flash import FakeFlash
from host_sim.bench.locked_heap import run_with_locked_heap
from host_sim.bench.virtual_clock import VirtualClock
from keeper import Keeper
from log_keeper import AFTER_WARNING_MS, LogKeeper
from log_store import PART_BLOCKS
from startup import prepare
from tests.both.core_rig import Rig, record
from tests.both.log_kept import BLOCK, Kept
from tests.both.start_rig import stored


def test_a_quiet_flight_is_written_in_whole_blocks_behind_a_head():
    kept = Kept()
    kept.fly(300, 6000)
    found = kept.blocks()
    assert found[0] == (log_layout.HEAD, 0)
    assert found[1:] == [(log_layout.DATA, i) for i in range(len(found) - 1)] and len(found) > 5
    assert kept.files.logs() == ["00001-000.log"] and kept.keeper.log.ring.dropped == 0


def test_the_head_holds_what_the_unit_started_with():
    kept = Kept()
    kept.fly(300, 2000)
    data = kept.flash.files["/00001-000.log"]
    assert b'"plumbing": "port-static"' in data[:BLOCK] and b"bench" in data[:BLOCK]
    assert data[16] == 1  # one block of head


def test_a_head_that_needs_two_blocks_gets_them():
    flash = FakeFlash()
    kept = Kept(flash)
    kept.keeper._store._head = bytes(5000)
    kept.keeper._store._heads = 2
    kept.fly(300, 3000)
    assert kept.blocks()[:3] == [(0, 0), (0, 1), (1, 0)]


def test_e4_the_flash_rests_while_a_warning_sounds_and_for_a_while_after_it():
    for lift, state in ((800, states.PRESSING), (960, states.STALLING)):
        kept = Kept(blocks=8)
        kept.fly(300, 900)
        calls = kept.flash.calls
        kept.fly(lift, 2000)
        assert kept.rig.unit.state == state
        assert kept.flash.calls == calls or kept.touched[-1] < 9200  # the ratio takes a moment
        warned = kept.flash.calls
        ended = kept.rig.now_ms
        kept.fly(300, 900)
        assert kept.flash.calls == warned
        kept.fly(300, 1000)
        after = [t for t in kept.touched if t > ended]
        assert after and after[0] >= ended + AFTER_WARNING_MS
        kept.blocks()


def test_e4_one_piece_at_a_time_so_that_two_erases_never_add_up():
    kept = Kept()
    kept.fly(300, 6000)
    gaps = [kept.touched[i + 1] - kept.touched[i] for i in range(len(kept.touched) - 1)]
    assert len(gaps) > 20
    # choosing a block and its first piece may follow each other at once; both erase at most once
    assert min(gaps) >= 200


def test_calm_is_written_only_when_the_ring_is_half_full():
    kept = Kept(blocks=8)
    kept.fly(600, 400)
    assert kept.rig.unit.state == states.CALM
    while kept.keeper.log.ring.waiting < 3:
        kept.fly(600, 1)
    assert not kept.touched
    kept.fly(600, 2500)
    assert kept.touched and kept.keeper.log.ring.dropped == 0


def test_nothing_is_written_while_a_note_sounds_or_a_record_waits_or_a_run_slows():
    kept = Kept()
    kept.fly(300, 1000)
    unit, keeper = kept.rig.unit, kept.keeper
    while not keeper.log.ring.waiting:
        kept.fly(300, 1)
    assert keeper._may_write()
    for stage in (stages.SLOWING, stages.RECOVERING, stages.JUDGING, stages.READY):
        unit.capture.state = stage
        assert not keeper._may_write(), stage
    unit.capture.state = stages.STEADY
    assert keeper._may_write()
    unit.capture.state = stages.IDLE
    unit.voice.level = 1
    assert not keeper._may_write()
    unit.voice.level = 0
    unit.reference_pm = 400
    assert not keeper._may_write()
    unit.reference_pm = -1
    unit.state = states.FAULT
    assert not keeper._may_write()
    unit.state = states.UNCALIBRATED  # the flights that learn the wing are flown so
    assert keeper._may_write()


def test_a_warning_that_lasts_costs_the_oldest_blocks_and_the_gap_shows():
    kept = Kept(blocks=3)
    kept.fly(300, 2500)
    kept.fly(800, 4000)
    assert kept.keeper.log.ring.dropped > 1 and not kept.keeper.stopped
    kept.fly(300, 5000)
    dropped = kept.keeper.log.ring.dropped
    sequences = [sequence for kind, sequence in kept.blocks() if kind == log_layout.DATA]
    missing = sequences[-1] + 1 - len(sequences)
    assert missing == dropped
    last = kept.flash.files["/00001-000.log"][-BLOCK:]
    assert last[20 + 29] == dropped
    assert sequences == sorted(sequences)


def test_a_long_session_goes_on_in_a_new_file_with_its_own_head():
    kept = Kept()
    kept.fly(300, 100)
    kept.keeper._store._part_blocks = PART_BLOCKS - 2
    kept.keeper._store._part, kept.keeper._store._heads_left = 0, 1
    kept.keeper._store._name = file_name(1, 0)
    kept.fly(300, 6000)
    assert kept.files.logs() == ["00001-000.log", "00001-001.log"]
    for name in kept.files.logs():
        assert kept.flash.files["/" + name][5] == log_layout.HEAD
    assert [k for k, _ in kept.blocks()].count(log_layout.HEAD) == 2


def test_after_a_landing_the_block_that_was_begun_is_written_too():
    kept = Kept(blocks=8)
    kept.fly(300, 300)
    flown = kept.land(2400)
    assert not kept.rig.unit.phase.flying
    ticks = 0
    data = kept.flash.files["/00001-000.log"]
    for at in range(0, len(data), BLOCK):
        if data[at + 5] == log_layout.DATA:
            ticks += data[at + 16] + 256 * data[at + 17]
    assert ticks >= 300 + flown > 1500  # nothing of the flight is only in memory


def test_a_tick_that_writes_nothing_allocates_nothing():
    kept = Kept(blocks=8)
    kept.fly(300, 300)
    rig, keeper = kept.rig, kept.keeper
    keeper._wait_ms = 1 << 29

    def step() -> None:
        kept.ticker.now_ms += 10
        rig.unit.tick(kept.ticker.now_ms, rig.sample)
        keeper.step()

    kept.ticker.now_ms = rig.now_ms
    run_with_locked_heap(step, 3000)


def test_a_change_is_logged_where_it_came_into_use():
    kept = Kept(blocks=8)
    kept.fly(300, 50)
    kept.keeper.changed(REFERENCE, 433)
    kept.fly(300, 50)
    kept.keeper.changed(log_layout.GAVE_UP, None)
    kept.fly(300, 3000)
    assert [kind for kind, _ in kept.blocks()[:5]] == [0, 1, 2, 1, 2]


class NoFiles:
    """A flash on which not even the names can be read."""

    def logs(self) -> list:
        raise MemoryError("names")


def test_a_unit_starts_as_on_the_board_with_a_log_or_says_that_it_has_none():
    vault, flash = stored()
    for files, wanted in ((LogFiles(flash, flash.open, ""), True), (NoFiles(), False)):
        board = BenchBoard(VirtualClock(), None)
        loop, remarks = prepare(board, vault, board.console.say, files)
        told = [line for line in remarks if line.startswith("log:")]
        assert [isinstance(one, LogKeeper) for one in loop._followers].count(True) == wanted
        assert len(told) == (not wanted), told
        for _ in range(50):
            loop.run_once()
        if wanted:  # first of all followers, so that it sees the tick as the unit left it
            assert isinstance(loop._followers[0], LogKeeper)
            assert loop._followers[0].log.open_ticks() == 50


def test_what_the_keeper_stores_in_flight_is_told_to_the_log():
    rig, told = Rig(), []
    vault, flash = stored()
    keeper = Keeper(rig.unit, vault, load(record())[0], None, print, False,
                    lambda kind, value: told.append((kind, value)))
    rig.unit.reference_pm = 520
    keeper.step()
    flash.fail_at, flash.fail_for = flash.calls + 1, 1 << 30
    rig.unit.reference_pm = 530
    for _ in range(3 * 510):
        keeper.step()
    assert told == [(REFERENCE, 520), (log_layout.GAVE_UP, None)]
