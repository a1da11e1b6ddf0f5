"""Flying or not, and the zero that is taken on the ground."""

from alula.ground_zero import FAR
from alula.health import ON_GROUND, WORDS
from alula.sample import NO_REPLY
from alula.states import FAULT, QUIET
from tests.both.core_rig import Rig, airborne, healths, levels, starts_of_sound, states

NO_ZERO = WORDS.index("no-zero")


def gusts(rig: Rig, mean_dpa: int, swing_dpa: int, ms: int) -> list:
    """Wind into the pitot: a mean and a triangular gust with a period of 1.2 s."""
    begin = len(rig.heard)
    for at_ms in range(0, ms, 10):
        saw = abs(at_ms % 1200 - 600) * 2 - 600  # -600..600
        rig.feel(mean_dpa + swing_dpa * saw // 600, (mean_dpa + swing_dpa * saw // 600) // 3)
    return rig.heard[begin:]


def notes(rows) -> list:
    """Pitches of the notes that are heard, one after another."""
    found = []
    before = 0
    for row in rows:
        if row[4] and row[4] != before:
            found.append(row[4])
        before = row[4]
    return found


def test_flying_begins_only_after_its_time():
    rig = Rig()
    rig.feel(0, 0, 4000)
    assert not rig.unit.phase.flying
    rig.feel(2000, 200, 500)  # the smoothing takes some of it
    assert not rig.unit.phase.flying
    rig.feel(2000, 200, 200)
    assert rig.unit.phase.flying and not rig.unit.phase.air_start


def test_c5_a_start_in_the_air_is_recognised_and_the_stored_zero_kept():
    # cases C5: cruise, and 50 kt (405 Pa, standard air) in gusts
    for q_dpa in (16000, 4050):
        rig = Rig(zero=(30, -20))
        rows = rig.fly(300, 1500, q_dpa=q_dpa)
        assert rig.unit.phase.flying and rig.unit.phase.air_start
        assert (rig.unit.pitot.zero_dpa, rig.unit.angled.zero_dpa) == (30, -20)
        assert not rig.unit.zero.taken
        assert states(rows) == [QUIET] and rig.unit.lift_known
        rows += rig.fly(300, 3000, q_dpa=q_dpa)
        # the self-test of the sound, then the remark of three level notes, once
        assert notes(rows) == [600, 800, 1000, 750, 750, 750]
        assert starts_of_sound(rig.fly(300, 20000, q_dpa=q_dpa)) == []


def test_c5_after_a_start_in_the_air_the_right_sound_comes_within_1500_ms():
    # stated: design section 7
    rig = Rig()
    rows = rig.fly(950, 1500)
    heard = [row for row in rows if row[1] == 3 and row[3] == 8 and row[4] in (1000, 1400)]
    assert heard and heard[0][0] <= 1500


def test_h10_a_landing_roll_ends_quiet():
    # approach, round-out with the stall warning sounding, then wheel brakes: 600 to 20 Pa in 6 s
    rig = airborne(lift_pm=600)
    rig.glide(4500, 3200, 1800, 2400, 4000)  # lift 950: stalling at the touch-down
    assert rig.heard[-1][1] == 3
    rig.glide(3200, 2800, 2400, 500, 500)  # the nose comes down
    rig.glide(2800, 150, 500, 30, 6000)
    rows = rig.feel(0, 0, 20000)
    assert states(rows[-1500:]) == [QUIET] and not any(levels(rows[-1500:]))
    assert not rig.unit.phase.flying and rows[-1][2] == ON_GROUND


def test_h10_a_landing_with_the_nose_held_high_ends_quiet_too():
    rig = airborne(lift_pm=600)
    rig.fly(950, 1000, q_dpa=3000)
    rig.glide(3000, 0, 2250, 0, 8000)  # stalling all the way down the runway
    rows = rig.feel(0, 0, 20000)
    assert states(rows[-1000:]) == [QUIET] and not rig.unit.phase.flying
    rows = rig.glide(0, 6000, 0, 600, 8000) + rig.fly(300, 2000)  # the next take-off
    assert rig.unit.phase.flying and states(rows) == [QUIET]


def test_h10_taxi_in_the_wind_is_silent():
    # cases H10: 15 kt of wind is 36 Pa (computed from 1/2 rho V^2)
    rig = Rig()
    rig.feel(0, 0, 5000)
    rows = gusts(rig, 360, 150, 60000)
    assert states(rows) == [QUIET] and not any(levels(rows))
    assert not rig.unit.phase.flying


def test_a_hose_that_comes_off_in_50_ms_is_lost_q_and_not_a_landing():
    rig = airborne()
    rig.glide(6000, 0, 600, 0, 50)
    rows = rig.feel(0, 0, 30000)
    assert rig.unit.phase.flying and rig.unit.phase.lost
    assert rows[-1][1:3] == (FAULT, WORDS.index("q-lost"))
    first = [row for row in rows if row[1] == FAULT][0]
    assert first[0] - rows[0][0] <= 500 + 200  # stated: fault_after_ms, and the window
    assert any(levels(rows[:100]))
    rig.fly(300, 1000)  # the pressure is back
    assert not rig.unit.phase.lost and states(rig.fly(300, 1000)) == [QUIET]


def test_a_new_zero_is_taken_in_stillness_only():
    rig = Rig(zero=(100, -100))
    rig.feel(130, -60, 5000)
    assert rig.unit.zero.taken and rig.unit.zero.known
    assert (rig.unit.pitot.zero_dpa, rig.unit.angled.zero_dpa) == (130, -60)
    rig.feel(130, -60, 1000)
    assert (rig.unit.pitot.dpa, rig.unit.angled.dpa) == (0, 0)


def test_c1_a_zero_is_taken_once():
    rig = Rig()
    rig.feel(30, 30, 5000)
    rig.feel(430, 30, 20000)  # cover off afterwards: 40 Pa
    assert rig.unit.pitot.zero_dpa == 30


def test_c1_wind_on_the_pitot_keeps_the_stored_zero_and_says_so():
    # cases C1: means of 16 to 65 Pa with gusts of 8 Pa; smaller means hide in the gusts' spread
    for mean_dpa in (160, 360, 650):
        rig = Rig(zero=(10, 20))
        rows = gusts(rig, mean_dpa, 80, 12000)
        assert (rig.unit.pitot.zero_dpa, rig.unit.angled.zero_dpa) == (10, 20)
        assert rig.unit.zero.refusals >= 1 and not rig.unit.zero.taken
        remark = [row for row in rows if row[0] > 1000 and row[3] == 8]
        assert remark and {row[4] for row in remark} == {750}  # the level figure, once
        assert starts_of_sound(gusts(rig, mean_dpa, 80, 30000)) == []


def test_c1_steady_wind_without_gusts_is_too_far_from_the_stored_zero():
    rig = Rig(zero=(10, 20))
    rig.feel(360, 20, 8000)  # 35 Pa off
    assert rig.unit.pitot.zero_dpa == 10 and rig.unit.zero.refusals
    assert rig.unit.zero.why == FAR and list(rig.unit.zero.changes_dpa) == [350, 0]
    rig.feel(110, 20, 8000)  # calm again: 10 Pa is within the limit
    assert rig.unit.pitot.zero_dpa == 110 and rig.unit.zero.taken


def test_c1_a_zero_may_hide_only_a_share_of_q_at_the_stall():
    # flying_q_dpa is 0.9 of q at the stall; 8 % of q at a stall of 45 kt, 328 Pa, is 26 Pa
    for flying_q, limit in ((2952, 262), (1300, 115)):
        for off in (limit, limit + 1):
            rig = Rig(zero=(0, 0), flying_q_dpa=flying_q, zero_change_dpa=1000)
            rig.feel(off, 0, 5000)
            assert rig.unit.zero.taken == (1 if off == limit else 0)


def test_c1_a_button_held_at_power_up_and_let_go_asks_for_a_first_zero():
    rig = Rig(zero=(0, 0))
    rig.sample.button = 1
    rig.feel(600, 0, 4000)
    assert not rig.unit.zero.taken  # held for ever, as by a short: nothing is allowed
    rig.sample.button = 0
    rig.feel(600, 0, 4000)
    assert rig.unit.pitot.zero_dpa == 600 and rig.unit.zero.taken == 1
    other = Rig(zero=(0, 0))
    other.feel(600, 0, 1000)
    other.sample.button = 1
    other.feel(600, 0, 500)
    other.sample.button = 0
    other.feel(600, 0, 4000)
    assert not other.unit.zero.taken  # a press later on is no such wish


def test_c2_the_zero_is_taken_once_more_when_warm_and_only_a_little_off():
    rig = Rig(zero=(0, 0))
    rig.sample.temperature_dc = 150
    rig.feel(20, -10, 5000)
    assert rig.unit.zero.taken == 1 and rig.unit.zero.temperature_dc == 150
    rig.sample.temperature_dc = 290
    rig.feel(60, -40, 123000)  # zero_again_ms 120 000
    assert rig.unit.zero.taken == 2 and rig.unit.pitot.zero_dpa == 60
    assert rig.unit.zero.temperature_dc == 290
    rig.feel(20, -10, 300000)
    assert rig.unit.zero.taken == 2 and rig.unit.pitot.zero_dpa == 60
    windy = Rig(zero=(0, 0))
    windy.feel(20, -10, 5000)
    windy.feel(71, -10, 300000)  # zero_spread_dpa is 50: this may be wind
    assert windy.unit.zero.taken == 1 and windy.unit.pitot.zero_dpa == 20


def test_c1_zeros_cannot_creep_away_a_little_each_day():
    """8 % of q at the stall is 11.5 Pa here. Ten days, each 10 Pa further than the one before:
    the anchor stays where somebody asked for it."""
    anchor, zero = (0, 0), (0, 0)
    for day in range(1, 11):
        rig = Rig(zero=zero)
        rig.unit.zero.adopt_anchor(anchor[0], anchor[1])
        rig.feel(100 * day, 0, 5000)
        zero = (rig.unit.pitot.zero_dpa, rig.unit.angled.zero_dpa)
        assert not rig.unit.zero.anchored
    assert zero == (100, 0)
    rig = Rig(zero=zero)
    rig.unit.zero.adopt_anchor(anchor[0], anchor[1])
    rig.sample.button = 1
    rig.feel(900, 0, 1000)
    rig.sample.button = 0
    rig.feel(900, 0, 4000)
    assert rig.unit.zero.anchored and list(rig.unit.zero.anchor_dpa) == [900, 0]


def test_c5_no_zero_after_a_flight():
    rig = Rig(zero=(0, 0))
    gusts(rig, 300, 80, 3000)
    rig.glide(0, 6000, 0, 600, 3000)
    rig.fly(300, 3000)
    rig.glide(6000, 0, 600, 0, 20000)
    rig.feel(30, 30, 20000)
    assert not rig.unit.phase.flying and not rig.unit.zero.taken


def test_d7_a_change_of_zero_is_limited_to_both_sides():
    for pitot, angled in ((-211, 0), (211, 0), (0, -211), (0, 211)):
        rig = Rig(zero=(0, 0))
        rig.feel(pitot, angled, 5000)
        assert not rig.unit.zero.taken and rig.unit.zero.refusals
        assert (rig.unit.pitot.zero_dpa, rig.unit.angled.zero_dpa) == (0, 0)
        rig = Rig(zero=(0, 0))
        rig.feel(pitot * 110 // 211, angled * 110 // 211, 5000)
        assert rig.unit.zero.taken


def test_c1_a_first_zero_in_gusts_is_refused_aloud():
    rig = Rig(zero=None)
    rows = gusts(rig, 360, 80, 8000)
    assert not rig.unit.zero.known and rows[-1][1:3] == (FAULT, NO_ZERO)
    rig.feel(20, 20, 6000)
    assert rig.unit.zero.known and rig.unit.zero.taken


def test_c1_too_few_samples_make_no_zero():
    rig = Rig(zero=None)
    rig.feel(20, 20, 1500)
    for _ in range(20):
        rig.blind(700, NO_REPLY, NO_REPLY)
        rig.feel(20, 20, 1500)  # never two whole seconds of stillness
    assert not rig.unit.zero.known and not rig.unit.zero.taken


def test_d7_a_stored_zero_of_exactly_zero_is_a_zero():
    rig = airborne(zero=(0, 0))
    assert rig.unit.zero.known and states(rig.fly(300, 1000)) == [QUIET]
    blank = airborne(zero=None)
    rows = blank.fly(950, 5000)
    assert not blank.unit.zero.known and rows[-1][1:3] == (FAULT, NO_ZERO)
    assert any(levels(rows))


def test_no_zero_is_taken_while_flying_however_still_it_is():
    rig = airborne()
    rig.fly(300, 60000)
    assert not rig.unit.zero.taken and rig.unit.pitot.zero_dpa == 0


def test_health_names_the_ground():
    rig = Rig()
    assert healths(rig.feel(0, 0, 3000))[-1] == ON_GROUND
