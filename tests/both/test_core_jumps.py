"""Cases A2, B4, E2: steps that no aeroplane can fly, and lost reads; what is heard, and for how
long. Times come from the settings table: a step is told after fault_after_ms 500; when it has
stepped back the windows fill anew (200 ms and the despiker, stated as 300); a step that stays is
believed after jump_clear_ms 20 000; steps that keep coming until 5 s after the last."""

from alula.health import WORDS
from alula.sample import FRESH, NO_REPLY
from alula.states import CALM, FAULT, QUIET, STALLING
from tests.both.test_core_pair_watch import Raw, flying

BACK_MS = 300


def upset(rig: Raw, ms: int, pitot_dpa, angled_dpa, noise: int = 19) -> list:
    """So long a push on both pressures at 600 Pa, ratio 0.2; the rows of `states`."""
    begin = len(rig.states)
    rig.feel(ms, 6000 + pitot_dpa, 1200 + angled_dpa, noise)
    return rig.states[begin:]


def after(rig: Raw, ms: int) -> list:
    begin = len(rig.states)
    rig.feel(ms, 6000, 1200)
    return rig.states[begin:]


def only(rows, *allowed) -> bool:
    return all(state in allowed for _, state, _ in rows)


def test_e2_a_transmission_is_told_and_over_when_it_is_over():
    for push in (2000, -2000):
        for ms in (600, 5000, 10000):
            rig = flying()
            rows = upset(rig, ms, push, push)
            assert only(rows, QUIET, FAULT)
            told = [row for row in rows if row[1] == FAULT]
            assert told[0][0] - rows[0][0] <= 550 and told[0][2] == "both-jump"
            assert only([row for row in rows if row[0] >= told[0][0]], FAULT)
            back = after(rig, 3000)
            assert only(back[BACK_MS // 10:], QUIET), (push, ms)


def test_e2_a_click_on_the_radio_is_not_heard_at_all():
    for ms in (20, 100, 200):
        rig = flying()
        assert only(upset(rig, ms, 2000, 2000) + after(rig, 2000), QUIET)


def test_e2_a_warning_outlives_a_transmission():
    rig = flying()
    rig.feel(2000, 6000, lambda at: 1200 + 3300 * at // 2000)
    assert rig.unit.state == STALLING
    begin = len(rig.states)
    rig.feel(3000, 8000, 6500, 19)
    assert only(rig.states[begin:], STALLING)
    rig.feel(1000, 6000, 4500)
    assert rig.unit.state == STALLING


def test_b4_water_in_one_line_or_the_other_names_it():
    for name, pitot, angled in (("pitot", 3000, 0), ("pitot", -3000, 0), ("angled", 0, 3000),
                                ("angled", 0, -3000)):
        rig = flying()
        rows = upset(rig, 1500, pitot, angled, 1)
        told = [row[2] for row in rows if row[1] == FAULT]
        assert told and set(told) == {name + "-jump"}
        assert only(after(rig, 2000)[BACK_MS // 10:], QUIET)


def test_b4_repeated_steps_are_unreliable_until_they_have_stopped():
    rig = flying()
    for _ in range(8):
        upset(rig, 300, 3000, 3000, 1)
        rows = after(rig, 700)
    assert only(rows, FAULT) and rows[-1][2] == "both-jump"
    rows = after(rig, 8000)
    assert only(rows[:450], FAULT) and only(rows[(5000 + BACK_MS) // 10:], QUIET)


def test_b4_a_step_that_stays_is_believed_in_the_end():
    rig = flying()
    rows = upset(rig, 25000, 1500, 1500, 1)
    assert only(rows[60:1950], FAULT)
    assert only(rows[2100:], QUIET, CALM)


def test_b5_an_angled_hose_that_came_off_is_never_believed():
    rig = flying()
    rig.feel(60000, 6000, 0)
    assert only(rig.states[-5900:], FAULT) and rig.states[-1][2] == "angled-jump"
    assert only(after(rig, 2000)[BACK_MS // 10:], QUIET)  # pushed on again


def test_a2_single_wild_words_are_not_heard_and_pairs_of_them_neither():
    """1 in 50 for a minute: code 0, full scale, a flipped bit."""
    for wild in (0, 16383, 8192 ^ 8762):
        rig = flying()
        for _ in range(120):
            rig.feel(490, 6000, 1200)
            rig.frozen = {"pitot": wild}
            rig.feel(10, 6000, 1200)
            rig.thaw()
        assert only(rig.states[1100:], QUIET)
    rig = flying()
    for count in (2, 5):
        rig.frozen = {"angled": 11000}
        rig.feel(10 * count, 6000, 1200)
        rig.thaw()
        assert only(after(rig, 3000), QUIET)


def test_a_change_below_the_limit_is_no_jump_and_one_above_it_is():
    """jump_pm 150 of q 600 Pa is 90 Pa; the words step by about 1 Pa."""
    for step, jumps in ((850, False), (-850, False), (950, True), (-950, True)):
        rig = flying()
        rows = upset(rig, 2000, step, 0, 0)
        assert (FAULT in [state for _, state, _ in rows]) == jumps, step


def test_the_smallest_step_is_jump_dpa_where_q_is_low():
    for step, jumps in ((380, False), (430, True)):
        rig = Raw(min_q_dpa=650, flying_q_dpa=1000, jump_pm=50)
        rig.feel(11000, 2000, 400)
        rows = len(rig.states)
        rig.feel(2000, 2000 + step, 400, 0)
        told = {word for _, state, word in rig.states[rows:] if state == FAULT}
        assert told == ({"pitot-jump"} if jumps else set())


def test_on_the_ground_nothing_jumps():
    rig = Raw()
    for _ in range(20):  # a hand at the probe
        rig.feel(500, 0, 0)
        rig.feel(500, 1000, -800)
    assert only(rig.states[20:], QUIET)


def test_a_gap_in_the_data_is_no_jump():
    rig = flying()
    rig.sample.pitot_status = NO_REPLY
    rig.feel(3000, 6000, 1200)
    rig.sample.pitot_status = FRESH
    rig.feel(1000, 9000, 1800)
    assert rig.unit.state == QUIET


def test_e2_lost_reads_over_the_limit_are_told_and_name_the_sensor():
    """unsteady_pm 400 of unsteady_ms 5000; a share below it is borne."""
    for share, tells in ((3, False), (6, True)):
        for name in ("pitot", "angled"):
            rig = flying()
            for at in range(2000):
                setattr(rig.sample, name + "_status", NO_REPLY if at * 7 % 10 < share else FRESH)
                rig.feel(10, 6000, 1200)
            words = {word for _, state, word in rig.states if state == FAULT}
            assert words == ({name + "-unsteady"} if tells else set()), (share, name)
            setattr(rig.sample, name + "_status", FRESH)
            rig.feel(11000, 6000, 1200)
            assert rig.unit.state == QUIET


def test_every_word_of_a_jump_is_a_word():
    assert {"pitot-jump", "angled-jump", "both-jump", "pitot-unsteady"} <= set(WORDS)


def test_e4_a_loop_held_up_sees_no_jump_in_what_happened_meanwhile():
    """150 ms in which the pressures went on changing, in a pull-up: with gap_ms 300 no gap for the
    windows, and no step for the watch."""
    rig = Raw(gap_ms=300)
    rig.feel(11000, 6000, 1200)
    for _ in range(20):
        rig.feel(10, 6000, 1200)
        rig.now_ms += 150
        rig.feel(500, 7500, 2600)
        rig.now_ms += 150
        rig.feel(500, 6000, 1200)
    assert not [row for row in rig.states if "jump" in row[2]]
