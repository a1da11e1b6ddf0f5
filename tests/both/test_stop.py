"""Case H4: the program stops by itself while a tone sounds; sound, reason and restart."""

import main
from alula.record_payloads import SETTINGS, STOP, STOP_MOST
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from loop import STOPPED_HZ
from stop import printable, stop_and_restart
from stored import Stored
from tests.both.core_rig import record
from tests.both.vault_rig import vault_with


class Bug:
    """A pressure sensor driver with a mistake in it, from the n-th read on."""

    def __init__(self, inner, good_reads: int) -> None:
        self.status, self.word = inner.status, inner.word
        self._left = good_reads

    def read(self) -> None:
        self._left -= 1
        if self._left < 0:
            raise KeyError("no such \u00e9 thing")


def test_h4_an_exception_in_the_loop_is_heard_kept_and_ends_in_a_restart():
    board, (vault, _) = BenchBoard(VirtualClock()), vault_with()
    sensors = {"pitot_output": "hsc-a", "angled_output": "hsc-a"}
    assert vault.save(SETTINGS, record(**sensors)) == ""
    prepare = main.prepare

    def with_a_bug(board, vault, say, log_files):
        loop, remarks = prepare(board, vault, say, log_files)
        loop._pitot = Bug(loop._pitot, 300)
        return loop, remarks

    main.prepare = with_a_bug
    try:
        main.start(board, vault)
    finally:
        main.prepare = prepare
    assert board.restarts == 1
    assert (board.pwm.hz, board.pwm.duty) == (STOPPED_HZ, 32768)
    # 3 s of good reads; the watchdog was fed in every tick and is not fed any more
    assert board.clock.elapsed_ms() >= 2990
    kept = vault.load(STOP)[0]
    assert kept.startswith("KeyError") and "?" in kept
    assert any("KeyError" in line for line in Stored(vault).remarks)


def test_h4_an_exception_before_the_loop_is_heard_too():
    board, (vault, _) = BenchBoard(VirtualClock()), vault_with()
    board.make_watchdog = None

    def broken(*_):
        raise MemoryError("at start")

    prepare, main.prepare = main.prepare, broken
    try:
        main.start(board, vault)
    finally:
        main.prepare = prepare
    assert board.restarts == 1 and board.pwm.duty == 32768
    assert vault.load(STOP)[0] == "MemoryError: at start"


def test_a_stop_that_repeats_is_written_once():
    board, (vault, flash) = BenchBoard(VirtualClock()), vault_with()
    for _ in range(5):
        stop_and_restart(board, vault, ValueError("the same"))
    assert sorted(flash.files) == ["/stop.a"] and board.restarts == 5
    stop_and_restart(board, vault, ValueError("another"))
    assert sorted(flash.files) == ["/stop.a", "/stop.b"]


def test_a_flash_or_a_tone_that_fails_does_not_keep_it_from_restarting():
    board, (vault, flash) = BenchBoard(VirtualClock()), vault_with()
    flash.fail_at, flash.fail_for = 1, 1 << 20
    board.pwm.fail_next(1 << 20)
    stop_and_restart(board, vault, ValueError("x"))
    assert board.restarts == 1


def test_any_text_fits_the_record():
    vault, _ = vault_with()
    for text in ("", "x" * 5000, "\u00e9\x00\t\n" * 700, "line\n" * 3):
        kept = printable(text)
        assert len(kept) <= STOP_MOST
        assert vault.save(STOP, kept) == "" and vault.load(STOP) == (kept, "")
