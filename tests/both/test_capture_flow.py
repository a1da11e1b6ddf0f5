"""A whole capture with one button, as the pilot hears it."""

from alula import figures, states
from alula.sample import FRESH, NO_REPLY
from alula.stall_capture import capture as steps
from alula.stall_capture import refusals
from alula.stall_capture.judge import MARKED, PRESSURES_ONLY, WITH_N
from tests.both.capture_rig import (
    DOWN,
    HELD,
    RUN,
    STALL_BP,
    CaptureRig,
    lift_pm,
    rig_at,
    stall_run,
)
from tests.both.core_rig import POINTS

CURVES = ((0, POINTS),)


def pitches_of(figure):
    """The pitches of a figure, rests left out."""
    notes = figures.FIGURES[figure]
    return {notes[i] for i in range(0, len(notes), 2) if notes[i]}


def test_three_runs_make_a_calibration():
    rig = CaptureRig().armed()
    for i in range(3):
        rig.fly()
        assert rig.unit.capture.verdicts == i + 1
        assert rig.unit.capture.refusal == refusals.ACCEPTED
    capture = rig.unit.capture
    assert capture.state == steps.READY and rig.unit.wants_saving()
    book = capture.book
    assert book.method[book.best] == WITH_N
    # The wing's lift peaks at 8000 by its formula. This pilot lets the ratio run through the top
    # at 1500 a second, so a mean over one second lies early, by less than 1.5 % of the lift.
    stall_bp = book.stall_bp[book.best]
    assert stall_bp <= STALL_BP + 100 and lift_pm(stall_bp) >= 985
    assert 90 <= book.entry_ckts[0] <= 125  # flown at 100
    for i in range(book.lengths[book.best]):
        x, u = book.ratios_bp[book.best][i], book.lifts_pm[book.best][i]
        if i < book.lengths[book.best] - 1 and x < 5000:
            assert abs(u - (x + 1000) * 2 / 15) < 15  # the wing's own straight line


def test_the_pilot_hears_each_step_once_and_in_order():
    rig = CaptureRig().armed()
    rig.fly()
    pace = (figures.GOOD, figures.EASE, figures.MORE)
    said = [f for f in rig.said() if f not in pace and f != figures.AIR_START]
    assert said == [figures.ARMED, figures.SLOW_NOW, figures.RECOVER, figures.ACCEPTED]
    rig.fly()
    rig.fly()
    assert rig.said().count(figures.RECOVER) == 3
    # nothing is said to be saved before it is
    assert figures.SAVED not in rig.said()
    rig.unit.adopt_curves([(0, ((0, 200), (8000, 1000)))])
    rig.cruise(10)
    assert rig.said()[-1] == figures.SAVED and rig.unit.capture.state == steps.IDLE


def test_recover_is_said_while_the_stall_is_still_under_way():
    rig = CaptureRig().armed()
    begin = rig.now_ms
    rig.fly()
    peak = next(i for i, row in enumerate(RUN) if row[0] == HELD) * 10
    told = next(ms for ms, figure in rig.figures if figure == figures.RECOVER) - begin
    # half a second of means, half a second of n/q below 96 %
    assert peak <= told <= peak + 1500


def test_pace_is_told_from_the_slope():
    for rate_ckts, expected in ((100, figures.GOOD), (120, figures.GOOD), (40, figures.MORE),
                                (190, figures.EASE)):
        rig = CaptureRig().armed()
        # the second half of the slow part: 8 s and more at this rate
        unit = rig.unit
        rig.fly(stall_run(rate_ckts=rate_ckts), until=lambda unit=unit: unit.ratio_bp > 6500)
        told = [f for f in rig.said() if f in (figures.GOOD, figures.EASE, figures.MORE)]
        assert told and told[-1] == expected, (rate_ckts, told)


def test_too_fast_is_refused():
    rig = CaptureRig().armed()
    rig.fly(stall_run(rate_ckts=180))
    capture = rig.unit.capture
    assert (capture.refusal, capture.state) == (refusals.TOO_FAST, steps.STEADY)
    assert 160 <= capture.number <= 220
    assert rig.said()[-1] == figures.REFUSED


def test_recovering_before_the_stall_is_refused():
    rig = CaptureRig().armed()
    early = next(i for i, row in enumerate(RUN) if row[2] >= 6500)
    back = [(DOWN, RUN[early][1] + 10 * i, max(2500, 6500 - 30 * i), 1000) for i in range(300)]
    rig.fly(RUN[:early] + back)
    assert rig.unit.capture.book.count == 0
    assert figures.ACCEPTED not in rig.said()


def test_without_the_accelerometer_a_prompt_run_still_counts():
    rig = CaptureRig(with_n=False).armed()
    rig.fly(stall_run(hold_bp=150))
    judge, book = rig.unit.capture.judge, rig.unit.capture.book
    assert judge.method == PRESSURES_ONLY
    if judge.refusal == refusals.ACCEPTED:
        assert book.stall_bp[0] <= STALL_BP + 100  # never late
    else:
        assert judge.refusal == refusals.UNCLEAR and book.count == 0


def test_one_tick_without_n_does_not_throw_n_away_but_a_long_gap_does():
    for gap_ticks, method in ((1, WITH_N), (100, PRESSURES_ONLY)):
        rig = CaptureRig().armed()
        half = len(RUN) // 2
        rig.fly(RUN[:half])
        rig.sample.nz_status = NO_REPLY
        rig.fly(RUN[half:half + gap_ticks])
        rig.sample.nz_status = FRESH
        rig.fly(RUN[half + gap_ticks:])
        assert rig.unit.capture.judge.method == method


def test_a_mush_is_marked_by_hand():
    rig = CaptureRig().armed()
    rig.fly(stall_run(mush=True, hold_bp=1500), until=lambda: rig.unit.ratio_bp > STALL_BP + 80)
    assert rig.unit.capture.state == steps.SLOWING
    q, x = rig.sample.pitot_word, rig.unit.ratio_bp
    for i in range(260):  # on the stop for two seconds and more
        rig.tick(q, x, button=1 if 220 < i < 250 else 0)
    assert rig.unit.capture.state == steps.RECOVERING
    for i in range(500):
        rig.tick(q + 6 * i, max(2500, x - 20 * i))
    capture = rig.unit.capture
    assert capture.judge.method == MARKED and capture.refusal == refusals.ACCEPTED
    assert abs(capture.judge.stall_bp - x) < 50


def test_a_mark_far_from_the_stall_is_refused():
    rig = CaptureRig().armed()
    rig.fly(until=lambda: rig.unit.ratio_bp > 5500)
    q, x = rig.sample.pitot_word, rig.unit.ratio_bp
    for i in range(30):
        rig.tick(q, x, button=1 if i < 20 else 0)
    assert figures.RECOVER in rig.said()  # the pilot has said that this is all there is
    rig.cruise(6000)
    assert rig.unit.capture.refusal == refusals.UNCLEAR
    assert rig.unit.capture.book.count == 0 and figures.REFUSED in rig.said()
    assert figures.ACCEPTED not in rig.said()


def test_guidance_is_heard_in_place_of_uncalibrated():
    rig = CaptureRig()
    rig.cruise(2500)
    assert rig.unit.state == states.UNCALIBRATED
    rig.long_press()
    begin = len(rig.heard)
    rig.fly()
    pitches = {hz for _, _, level, hz in rig.heard[begin:] if level}
    guidance = set()
    for figure in range(figures.ARMED, len(figures.FIGURES)):
        guidance |= pitches_of(figure)
    assert pitches and pitches <= guidance
    assert all(row[1] == states.UNCALIBRATED for row in rig.heard[begin:])
    rig.unit.capture.cancel()
    begin = len(rig.heard)
    rig.cruise(8000)
    heard = {hz for _, _, level, hz in rig.heard[begin:] if level}
    assert pitches_of(figures.UNCALIBRATED) <= heard


def test_guidance_is_never_heard_over_a_warning():
    rig = CaptureRig(curves=CURVES).armed()
    rig.fly()
    warble = {1000, 1400}
    met = set()
    for _, state, level, hz in rig.heard:
        met.add(state)
        if level and state == states.PRESSING:
            assert hz <= 1400 and hz not in (1250, 1350, 1500, 1800)
        if level and state == states.STALLING:
            assert hz in warble or hz <= 1100
    assert states.PRESSING in met and states.STALLING in met
    # and a stalling sound has no gap while the capture talks
    stalling = [level for _, state, level, _ in rig.heard if state == states.STALLING]
    assert min(stalling[2:]) > 0


def test_guidance_is_never_heard_over_a_fault():
    rig = rig_at(steps.SLOWING, curves=CURVES)
    begin = len(rig.heard)
    rig.cruise(6000, pitot=NO_REPLY)
    rows = [row for row in rig.heard[begin + 60:] if row[1] == states.FAULT and row[2]]
    assert rows and {row[3] for row in rows[10:]} <= pitches_of(figures.CANNOT_KNOW)


def test_a_short_press_in_steady_flight_takes_a_reference():
    rig = CaptureRig(curves=CURVES)
    rig.cruise(6000)
    lift = rig.unit.lift_pm
    rig.short_press()
    assert abs(rig.unit.reference_pm - lift) <= 2 and rig.unit.wants_saving()
    rig.unit.adopt_reference(rig.unit.reference_pm)
    rig.cruise(10)
    assert rig.unit.reference_pm == -1 and rig.said()[-1] == figures.NOTED


def test_no_reference_while_slowing_in_a_fault_or_uncalibrated():
    rig = CaptureRig(curves=CURVES)
    rig.cruise(3000)
    for i in range(300):  # lift rises by more than its stillness allows
        rig.tick(6749 - 8 * i, 2330 + 8 * i, button=1 if 200 < i < 230 else 0)
    assert rig.unit.reference_pm == -1
    rig = CaptureRig(curves=CURVES)
    rig.cruise(4000)
    for i in range(200):
        rig.cruise(10, button=1 if 120 < i < 150 else 0, pitot=NO_REPLY)
    assert rig.unit.reference_pm == -1
    rig = CaptureRig()
    rig.cruise(4000)
    rig.short_press()
    assert rig.unit.reference_pm == -1
