"""A unit restarted into maintenance: not started, not silent, not fed. Both interpreters."""

import main
import maintenance
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.start_rig import Start, stored


def test_the_program_ends_and_no_watchdog_runs():
    unit = Start(stored()[0])
    unit.board.maintenance = True
    before = {name: data for name, data in unit.vault._store._os.files.items()}
    main.start(unit.board, unit.vault)
    assert unit.board.watchdog is None and unit.board.restarts == 0
    assert unit.board.terminal.lines() == [maintenance.LINE]
    assert unit.vault._store._os.files == before  # nothing is written, not even the start counted


def test_it_is_told_from_a_quiet_unit_by_lamp_and_note():
    unit = Start(stored()[0])
    unit.board.maintenance = True
    main.start(unit.board, unit.vault)
    board = unit.board
    assert board.lamp_pin.value() == 1
    heard, notes = [], 0
    for _ in range(6000):
        board.clock.advance_ms(10)
        heard.append(board.pwm.hz if board.pwm.duty else 0)
    notes = len([i for i in range(1, 6000) if heard[i] and not heard[i - 1]]) + (heard[0] > 0)
    assert notes == 6 and set(heard) == {0, maintenance.NOTE_HZ}  # one in ten seconds
    gap = longest = 0
    for hz in heard:
        gap = 0 if hz else gap + 1
        longest = max(longest, gap)
    assert longest <= 1000
    assert len([hz for hz in heard if hz]) == 6 * 15  # 150 ms each
    assert board.lamp_pin.value() == 1


def test_the_note_is_made_in_an_interrupt_so_it_allocates_nothing():
    unit = Start(stored()[0])
    reminder = maintenance.Reminder(unit.board.pwm)
    reminder.tick()
    run_with_locked_heap(reminder.tick, 1000)


def test_the_next_start_is_an_ordinary_one():
    unit = Start(stored()[0])
    assert unit.board.maintenance is False
    unit.prepare()
    unit.fly(50, 300, 0)
    assert unit.board.watchdog.feeds == 50
