"""Cases E4, H4: whatever raises or blocks, the unit is heard, keeps the reason, starts again, and
then says the right thing."""

from alula import figures
from alula.record_payloads import STOP
from alula.states import FAULT, PRESSING, QUIET, STALLING
from assembly import WATCHDOG_MS
from drivers.heartbeat import LIMIT_MS, PERIOD_MS
from host_sim.bench.bench_board import BenchBoard
from host_sim.bench.virtual_clock import VirtualClock
from loop import STOPPED_HZ
from stop import stop_and_restart
from tests.both.start_rig import BACK_TICKS, Broken, Planted, Start, gaps, started, stored
from tests.both.vault_rig import vault_with

SEEDED_TICKS = 30  # a window of 200 ms, and the despiker
FAULT_HZ = figures.FIGURES[figures.CANNOT_KNOW][0]

# Where a mistake may be: the object inside the loop (None: the loop's list of followers, by
# number), and the name of its method.
PLACES = (("_clock", "now_ms"), ("_pitot", "read"), ("_angled", "read"),
          ("_accelerometer", "read"), ("_flaps", "setting"), ("_button", "pressed"),
          ("unit", "tick"), ("_tone", "apply"), ("_heartbeat", "beat"), ("_lamp", "show"),
          ("_watchdog", "feed"), (0, "step"), (1, "step"), (2, "step"), (3, "step"))


def plant(loop, where, name: str) -> None:
    """Put the mistake there."""
    if isinstance(where, int):
        followers = list(loop._followers)
        followers[where] = Broken(followers[where], name)
        loop._followers = tuple(followers)
    else:
        setattr(loop, where, Broken(getattr(loop, where), name))


def test_h4_a_mistake_anywhere_in_the_loop_is_heard_kept_and_ends_in_a_restart():
    """In the middle of the stall sound; after the restart the stall sound is back."""
    for where, name in PLACES:
        vault, _ = stored("lis3dh")
        unit = Start(vault, "power", "lis3dh")
        unit.lift_pm = 1000
        seen = []

        def strike(unit=unit, seen=seen, where=where, name=name) -> None:
            if not seen and unit.board.clock.elapsed_ms() >= 3000:
                seen.append(unit.loop.unit.state)
                plant(unit.loop, where, name)

        unit.before_tick = strike
        unit.main()
        pwm = unit.board.pwm
        assert seen == [STALLING], (where, name)
        assert (pwm.hz, pwm.duty) == (STOPPED_HZ, 32768), (where, name)
        assert unit.board.restarts == 1 and "Planted" in vault.load(STOP)[0]
        again = started(vault, "restart", "lis3dh", 1000)
        rows = again.fly(400, 1000)
        assert {state for state, _ in rows[BACK_TICKS:]} == {STALLING}, (where, name)
        assert all(hz for _, hz in rows[BACK_TICKS:])


def test_h4_the_low_note_does_not_outlive_the_program():
    """Ctrl-C, or a restart that does not come: fault sound in time, and the watchdog bites."""
    unit = Start(stored()[0])
    unit.lift_pm = 800

    def interrupt() -> None:
        if unit.board.clock.elapsed_ms() >= 3000:
            raise KeyboardInterrupt()

    unit.before_tick = interrupt
    interrupted = False
    try:
        unit.main()
    except KeyboardInterrupt:
        interrupted = True
    assert interrupted and unit.board.restarts == 0
    board, pwm = unit.board, unit.board.pwm
    assert (pwm.hz, pwm.duty) == (STOPPED_HZ, 32768)
    before = pwm.count
    board.clock.advance_ms(LIMIT_MS + PERIOD_MS)
    assert pwm.count > before and (pwm.hz, pwm.duty) == (FAULT_HZ, 32768)
    board.clock.advance_ms(WATCHDOG_MS)
    assert board.watchdog.check()


def test_h4_the_watchdog_bites_at_its_time_and_not_before():
    for late_ms, bites in ((WATCHDOG_MS - 20, 0), (WATCHDOG_MS + 20, 1)):
        unit = started(stored()[0])
        unit.fly(300, 300)
        unit.board.clock.advance_ms(late_ms)
        unit.fly(10, 300)
        assert unit.board.watchdog.bites == bites and unit.board.watchdog.timeout_ms == 2000


def test_h4_a_block_ends_and_the_sound_is_that_of_now():
    """1.5 s in the stall and in pressing: the heartbeat takes over, and gives back at once."""
    for lift_pm, state in ((1000, STALLING), (800, PRESSING)):
        unit = started(stored()[0], lift_pm=lift_pm)
        unit.fly(300, lift_pm)
        assert unit.loop.unit.state == state
        pwm, clock = unit.board.pwm, unit.board.clock
        begun_ms, before = clock.elapsed_ms(), pwm.count
        clock.advance_ms(1500)
        taken = [at_us // 1000 - begun_ms for at_us, hz, duty in pwm.events()[-(
            pwm.count - before):] if duty and hz == FAULT_HZ]
        assert taken and LIMIT_MS - PERIOD_MS <= taken[0] <= LIMIT_MS + PERIOD_MS
        rows = unit.fly(300, lift_pm)
        # pressing does not outlive so long a gap: it cannot know until its windows are full
        wrong = {found for found, _ in rows[:SEEDED_TICKS]} - {state, FAULT}
        assert not wrong and {found for found, _ in rows[SEEDED_TICKS:]} == {state}, lift_pm
        assert state == PRESSING or FAULT not in {found for found, _ in rows}
        assert FAULT_HZ not in {hz for _, hz in rows[SEEDED_TICKS:]}
        # one tick until the tone is written anew; pulses are less than 0.7 s apart
        assert max(gaps(rows)) <= (1 if state == STALLING else 35), (lift_pm, max(gaps(rows)))


def test_h4_a_restart_follows_whatever_fails_on_the_way_to_it():
    """Out of memory, even the words about it may not be had."""
    for fails in ("describe", "console", "vault", "pwm"):
        board, vault = BenchBoard(VirtualClock()), vault_with()[0]
        if fails == "describe":
            board.describe = out_of_memory
        elif fails == "console":
            board.console = Broken(board.console, "say")
        elif fails == "vault":
            vault = Broken(vault, "load")
        else:
            board.pwm = Broken(board.pwm, "duty_u16")
        stop_and_restart(board, vault, MemoryError())
        assert board.restarts == 1, fails
    board = BenchBoard(VirtualClock())
    board.describe, board.console = out_of_memory, Broken(board.console, "say")
    stop_and_restart(board, vault_with()[0], MemoryError())
    assert board.restarts == 1


def out_of_memory(*_) -> None:
    raise MemoryError()


def test_h4_a_mistake_that_comes_back_at_every_start_is_never_silent_for_long():
    """Five starts in the air, each ended by the same mistake after a second: something is heard in
    every one of them, never a margin sound that is not due, and the reason is written once."""
    vault, flash = stored()
    for i in range(5):
        unit = Start(vault, "restart" if i else "power")

        def strike(unit=unit) -> None:
            if unit.board.clock.elapsed_ms() >= 1000:
                raise Planted("again")

        unit.before_tick = strike
        unit.main()
        heard = {hz for _, hz, duty in unit.board.pwm.events() if duty}
        assert STOPPED_HZ in heard and unit.board.restarts == 1
        assert unit.loop.unit.state in (QUIET, FAULT)
    assert "/stop.a" in flash.files and "/stop.b" not in flash.files
