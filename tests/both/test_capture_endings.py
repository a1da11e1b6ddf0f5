"""What ends a capture, and what must never begin one: nothing half-learned stays behind."""

from alula import figures, states
from alula.health import WORDS
from alula.sample import NO_REPLY
from alula.stall_capture import capture as steps
from alula.stall_capture import refusals
from alula.stall_capture.capture import StallCapture
from tests.both.capture_rig import CaptureRig, rig_at
from tests.both.core_rig import POINTS, settings_with

CURVES = ((0, POINTS),)
STATES = (steps.STEADY, steps.SLOWING, steps.RECOVERING, steps.JUDGING, steps.READY)


def test_cancel_at_every_state_leaves_no_trace():
    for state in STATES:
        rig = rig_at(state, curves=CURVES)
        flaps, curve = rig.unit.flaps, rig.unit.flaps.curve
        row = (rig.sample.pitot_word, rig.unit.ratio_bp)
        held = 0
        while rig.unit.capture.state != steps.IDLE:
            rig.tick(*row, button=1)
            held += 10
            assert held < 1600
        capture = rig.unit.capture
        assert rig.unit.flaps is flaps and rig.unit.flaps.curve is curve
        assert capture.book.count == 0 and capture.book.best == -1
        assert rig.said()[-1] == figures.CANCELLED
        assert not rig.unit.wants_saving()


def test_a_fault_during_the_run_is_refused_and_leaves_no_trace():
    rig = rig_at(steps.SLOWING, curves=CURVES)
    flaps = rig.unit.flaps
    rig.cruise(1500, pitot=NO_REPLY)
    capture = rig.unit.capture
    assert capture.refusal == refusals.FAULT and WORDS[capture.number] == "pitot-no-reply"
    assert capture.state == steps.STEADY and capture.book.count == 0
    assert rig.unit.flaps is flaps and rig.unit.state == states.FAULT


def test_e2_a_doubt_during_the_run_is_refused_too():
    """Three reads in five are lost: told after unsteady_ms 5000 at most."""
    rig = rig_at(steps.SLOWING, curves=CURVES)
    flaps = rig.unit.flaps
    for _ in range(200):
        rig.cruise(30, pitot=NO_REPLY)
        rig.cruise(20)
    capture = rig.unit.capture
    assert capture.refusal == refusals.FAULT and WORDS[capture.number] == "pitot-unsteady"
    assert capture.book.count == 0 and rig.unit.flaps is flaps


def test_the_capture_goes_on_after_a_fault():
    rig = rig_at(steps.SLOWING)
    rig.cruise(1500, pitot=NO_REPLY)
    rig.cruise(1000)
    rig.fly()
    assert rig.unit.capture.refusal == refusals.ACCEPTED


def test_d1_armed_parked_or_taxiing_is_refused():
    for q in (0, 30, 360, 600):  # standing, 4, 15 and 19 kt
        rig = CaptureRig()
        rig.cruise(4000, q=q)
        rig.cruise(1700, button=1, q=q)
        rig.cruise(300, q=q)
        capture = rig.unit.capture
        assert capture.state == steps.IDLE and capture.refusal == refusals.NOT_FLYING
        # what moves too much to be a zero is told as it is
        assert capture.number == (q if q > 30 else 0)
        assert figures.REFUSED in rig.said() and figures.ARMED not in rig.said()
        before = list(rig.said())
        rig.cruise(200, button=1, q=q)
        rig.cruise(3000, q=q)
        # a short press on the ground begins the checks there, if it stands; nothing else
        said = figures.NEXT_STEP if q <= 30 else figures.REFUSED
        assert set(rig.said()[len(before):]) == {said}
        assert rig.unit.reference_pm == -1 and capture.state == steps.IDLE


def test_d1_armed_at_high_speed_waits_and_learns_nothing():
    rig = CaptureRig()  # 100 kt is 1621 Pa
    rig.cruise(2500, q=16210)
    rig.cruise(1700, button=1, q=16210)
    rig.cruise(20000, q=16210)
    assert rig.unit.capture.book.count == 0 and rig.unit.capture.verdicts == 0


def test_landing_ends_a_capture():
    rig = rig_at(steps.STEADY)
    for q in range(6700, 0, -5):
        rig.tick(q, 2330)
    rig.cruise(4000, q=0)
    assert rig.unit.capture.state == steps.IDLE


def test_lift_that_was_never_positive_is_refused_and_not_divided_by():
    """An accelerometer with the wrong sense: n/q has no peak above 0."""
    capture = StallCapture(settings_with())
    for _ in range(100):
        for _ in range(10):
            capture.track.step(10, 3000, 4000, -1000, True)
        capture.watch.step(capture.track)
    assert capture.watch.peak == 0 and not capture.watch.is_run(capture.track)
    for marked in (False, True):
        capture.judge.begin(marked)
        for _ in range(200):
            capture.judge.step()
        assert capture.judge.done
        assert capture.judge.refusal == refusals.WRONG_SIDE
        assert capture.judge.number < -900
