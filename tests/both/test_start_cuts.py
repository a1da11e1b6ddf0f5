"""Case C5: the power goes while a record is being saved, or the unit starts in the air, cold, with
nothing stored, or with sensors that wake late: whole records, no zero, the right sound."""

from alula.health import WORDS
from alula.record_payloads import CALIBRATION, SETTINGS, STARTS, ZERO
from alula.states import PRESSING, QUIET, STALLING
from host_sim.bench.fake_flash import PowerCut
from tests.both.start_rig import BACK_TICKS, Start, started, stored
from tests.both.test_core_loop import sensor_record
from tests.both.vault_rig import vault_with


def was_cut(unit: Start, ticks: int, lift_pm: int, q_dpa: int = 6000) -> bool:
    """Fly until the power is cut, or so long."""
    try:
        unit.fly(ticks, lift_pm, q_dpa)
    except PowerCut:
        return True
    return False


def test_c5_a_power_cut_at_every_step_of_a_save_in_flight_leaves_the_right_sound():
    """The start is counted in quiet flight; the power goes at each call of the flash."""
    for cut_after in (False, True):
        vault, flash = stored()
        at, cut = 0, True
        while cut:
            at += 1
            flash.healthy()
            unit = started(vault, "watchdog")
            flash.calls, flash.cut_at, flash.cut_after = 0, at, cut_after
            cut = was_cut(unit, 700, 300)
            flash.healthy()
            for kind in (ZERO, CALIBRATION, SETTINGS):
                assert vault.load(kind)[0] is not None, (at, cut_after, kind)
            count = vault.load(STARTS)[0]
            assert count is None or count["watchdog"] == count["in_air"] <= at
            again = started(vault, "power", lift_pm=1000)
            rows = again.fly(400, 1000)
            assert {state for state, _ in rows[BACK_TICKS:]} == {STALLING}, (at, cut_after)
            assert not again.loop.unit.zero.taken
        assert at > 10 and vault.load(STARTS)[0]["watchdog"] > 1


def test_c5_a_power_cut_at_every_step_of_the_zero_leaves_the_old_or_the_new_one():
    """On the ground, 2 Pa from the stored zero; then the power goes, and the next start flies."""
    met = set()
    for cut_after in (False, True):
        at, cut = 0, True
        while cut:
            at += 1
            vault, flash = stored()
            unit = started(vault, "power", lift_pm=200, q_dpa=20)
            flash.calls, flash.cut_at, flash.cut_after = 0, at, cut_after
            cut = was_cut(unit, 400, 200, 20)
            flash.healthy()
            zero, problem = vault.load(ZERO)
            assert not problem
            met.add("old" if zero["pitot_dpa"] == 0 else "new")
            assert zero["pitot_dpa"] == 0 or 15 <= zero["pitot_dpa"] <= 30, (at, cut_after)
            again = started(vault, "power", lift_pm=1000)
            rows = again.fly(300, 1000)
            assert {state for state, _ in rows[BACK_TICKS:]} == {STALLING}
            assert again.loop.unit.pitot.zero_dpa == zero["pitot_dpa"]
    assert met == {"old", "new"}


def test_c5_a_start_in_the_air_takes_no_zero_however_still_the_air_is():
    """Words that never move, for two minutes, at cruise and at 1.05 of the stall."""
    for lift_pm in (300, 860):
        vault, flash = stored()
        unit = started(vault, "power", lift_pm=lift_pm)
        rows = unit.fly(12000, lift_pm)
        assert unit.loop.unit.phase.air_start and not unit.loop.unit.zero.taken
        assert vault.load(ZERO)[0]["pitot_dpa"] == 0
        assert {state for state, _ in rows[BACK_TICKS:]} == {QUIET if lift_pm == 300 else PRESSING}


def test_c5_without_a_zero_or_a_calibration_a_start_in_the_air_says_so_and_gives_no_margin():
    vault, _ = vault_with()
    assert vault.save(SETTINGS, sensor_record()) == ""
    unit = started(vault, "power", lift_pm=1000)
    rows = unit.fly(1000, 1000)
    assert WORDS[unit.loop.unit.health] == "uncalibrated"
    assert not {state for state, _ in rows} & {PRESSING, STALLING}
    assert any(hz for _, hz in rows[BACK_TICKS:BACK_TICKS + 300])


def test_c5_a_sensor_that_wakes_late_does_not_cost_the_air_start():
    """After a brown-out: 300 ms without a reply, then a second of command mode (case A1)."""
    unit = started(stored()[0], "power", lift_pm=1000)
    unit.board.angled_i2c.fail_next(30)
    unit.board.pitot_sensor.status_override = 1
    rows = unit.fly(100, 1000)
    assert not {state for state, _ in rows} & {PRESSING, STALLING}
    unit.board.pitot_sensor.status_override = None
    rows = unit.fly(300, 1000)
    assert {state for state, _ in rows[60:]} == {STALLING}
    assert unit.loop.unit.phase.air_start and not unit.loop.unit.zero.taken
