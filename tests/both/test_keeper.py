"""From a flown capture to a stored record to a restarted unit: all of it or nothing.

Case D2: abort at every step, stored bytes unchanged; what is in use is what was read back.
"""

from alula import figures, states
from alula.calibration import curves_of
from alula.record_payloads import CALIBRATION, REFERENCE, SETTINGS, ZERO
from alula.stall_capture import capture as stages
from drivers.console import Console
from host_sim.bench.fake_console import FakePoller, FakeStream
from keeper import AGAIN_TICKS, TRIES, Keeper
from narrator import Narrator
from stored import Stored
from tests.both.capture_rig import RUN, STALL_BP, CaptureRig, lift_pm
from tests.both.core_rig import Rig, record, settings_with
from tests.both.vault_rig import vault_with

OLD = [(0, [[0, 200], [4000, 600], [8000, 1000]])]


class Kept:
    """A capture rig with a keeper on a fake flash."""

    def __init__(self, curves=None, calibration=None) -> None:
        self.rig = CaptureRig(curves=curves)
        self.unit = self.rig.unit
        self.vault, self.flash = vault_with()
        self.lines = []
        self.keeper = Keeper(self.unit, self.vault, settings_with(flying_q_dpa=2700), calibration,
                             self.lines.append)

    def fly_to_ready(self) -> None:
        self.rig.armed()
        while self.unit.capture.state != stages.READY:
            self.rig.fly(until=lambda: self.unit.capture.state == stages.READY)

    def calm(self, ticks: int = 1) -> None:
        for _ in range(ticks):
            self.rig.cruise()
            self.keeper.step()


def test_d2_a_capture_is_stored_read_back_and_only_then_used():
    kept = Kept()
    kept.fly_to_ready()
    assert kept.unit.flaps is None and not kept.flash.files
    kept.calm(50)
    assert kept.unit.capture.state == stages.IDLE
    assert figures.SAVED in kept.rig.said()
    value, problem = kept.vault.load(CALIBRATION)
    assert not problem
    points = value["curves"][0]["points"]
    assert points[-1][1] == 1000
    # The rig's wing stalls at 8000, and its lift is flat there: within 1 % of the peak, not late.
    assert lift_pm(points[-1][0]) >= 990 and points[-1][0] <= STALL_BP
    assert kept.unit.flaps.curve.stall_bp == points[-1][0]
    assert any("saved" in line for line in kept.lines)


def test_d2_what_is_in_use_is_the_same_before_and_after_a_restart():
    kept = Kept()
    assert kept.vault.save(SETTINGS, record(flying_q_dpa=2700)) == ""
    kept.fly_to_ready()
    kept.calm(5)
    stored = Stored(kept.vault)
    assert not stored.remarks
    vault, _ = vault_with(**{name.replace(".", "_")[1:]: data
                             for name, data in kept.flash.files.items()})
    again = Stored(vault)
    assert again.calibration == stored.calibration
    restarted = CaptureRig(curves=curves_of(again.plain))
    curve, before = restarted.unit.flaps.curve, kept.unit.flaps.curve
    for ratio in range(-2000, 12000, 37):
        assert curve.lift_pm(ratio) == before.lift_pm(ratio)


def test_d2_cancel_at_every_stage_leaves_the_flash_and_the_old_curve_alone():
    for stage in (stages.STEADY, stages.SLOWING, stages.RECOVERING, stages.JUDGING, stages.READY):
        kept = Kept(curves=OLD)
        kept.rig.armed()
        for _ in range(4):
            kept.rig.fly(until=lambda kept=kept, stage=stage: kept.unit.capture.state == stage)
        assert kept.unit.capture.state == stage
        used = kept.unit.flaps
        kept.unit.capture.cancel()
        kept.calm(100)
        assert not kept.flash.files and kept.unit.flaps is used
        assert kept.unit.capture.state == stages.IDLE


def test_nothing_is_stored_while_a_warning_sounds():
    kept = Kept(curves=OLD)
    kept.fly_to_ready()
    for _ in range(100):
        kept.rig.tick(3400, 7600)  # on OLD, 0.96 of the lift
    for _ in range(300):
        kept.rig.tick(3400, 7600)
        kept.keeper.step()
        assert kept.unit.state >= states.PRESSING
        assert not kept.flash.files
    kept.calm(400)
    assert kept.vault.load(CALIBRATION)[0] is not None


def test_f2_a_flash_that_fails_is_tried_again_and_then_given_up_aloud():
    kept = Kept(curves=OLD)
    kept.fly_to_ready()
    kept.flash.fail_at, kept.flash.fail_for = 1, 1 << 20
    used = kept.unit.flaps
    kept.calm((TRIES + 1) * (AGAIN_TICKS + 100))
    assert len([line for line in kept.lines if "saved" in line]) >= TRIES
    assert kept.unit.capture.state == stages.IDLE and kept.unit.flaps is used
    assert kept.rig.said()[-1] == figures.REFUSED
    kept.flash.healthy()
    assert kept.vault.load(CALIBRATION) == (None, "")


def test_f2_one_failure_is_mended_by_the_next_try():
    kept = Kept()
    kept.fly_to_ready()
    kept.flash.fail_at, kept.flash.fail_for = 1, 4
    kept.calm(2 * AGAIN_TICKS + 100)
    assert kept.unit.capture.state == stages.IDLE
    assert kept.vault.load(CALIBRATION)[0]["curves"][0]["points"][-1][0] == (
        kept.unit.flaps.curve.stall_bp)


def test_curves_of_other_flaps_stay_and_unknown_sensors_do_not():
    kept = Kept()
    kept.fly_to_ready()
    kept.calm(5)
    value = kept.vault.load(CALIBRATION)[0]
    value["curves"][0]["flap"] = 2
    for mark, flaps in ((value["fingerprint"], [2, 0]), (None, [0]), (7, [0])):
        value["fingerprint"] = mark
        second = Kept(calibration=value)
        second.fly_to_ready()
        second.calm(5)
        assert [curve["flap"] for curve in second.vault.load(CALIBRATION)[0]["curves"]] == flaps


def test_a_reference_is_stored_and_centres_the_calm_tick():
    kept = Kept(curves=OLD)
    kept.rig.cruise(4000)
    kept.rig.short_press()
    kept.calm(5)
    lift = kept.vault.load(REFERENCE)[0]
    assert lift == kept.unit.lift_pm == 433  # ratio 2330 on OLD: 200 + 2330 / 10
    kept.rig.cruise(1000)
    assert kept.unit.state == states.CALM and figures.NOTED in kept.rig.said()


def test_a_new_zero_is_stored_on_the_ground_once():
    rig = Rig(zero=None)
    vault, flash = vault_with()
    keeper = Keeper(rig.unit, vault, settings_with(), None, lambda line: None)
    for _ in range(600):
        rig.feel(-37, 52)
        keeper.step()
    value = vault.load(ZERO)[0]
    assert (value["pitot_dpa"], value["angled_dpa"]) == (-37, 52)
    assert value["spread_pitot_dpa"] == 0 and value["count"] >= 200
    assert sorted(flash.files) == ["/anchor.a", "/zero.a"]  # a first zero is an anchor


def test_stored_refuses_what_was_made_with_other_sensors():
    kept = Kept()
    kept.fly_to_ready()
    kept.calm(5)
    for changes, fits in (({}, True), ({"pitot_sense": "reversed"}, False),
                          ({"angled_high_dpa": 50000}, False)):
        files = {name.replace(".", "_")[1:]: data for name, data in kept.flash.files.items()}
        vault, _ = vault_with(**files)
        assert vault.save(SETTINGS, record(flying_q_dpa=2700, **changes)) == ""
        stored = Stored(vault)
        assert (stored.plain is not None) == fits
        assert stored.amiss != fits
        assert fits or "other sensors" in stored.remarks[-1]


def test_a_computer_that_listens_is_told_each_step_and_one_that_does_not_costs_nothing():
    stream, poller = FakeStream(), FakePoller()
    console = Console(stream, poller)
    rig = CaptureRig()
    narrator = Narrator(rig.unit, console.say)
    rig.armed()
    narrator.step()
    for _, q, x, n in RUN:
        rig.tick(q, x, n)
        narrator.step()
    told = stream.text.splitlines()
    wanted = ["hold steady", "slow down", "recover now", "judging", "accepted", "hold steady"]
    at = 0
    for line in told:
        if at < len(wanted) and wanted[at] in line:
            at += 1
    assert at == len(wanted), told
    poller.listening = False
    console.say("nobody")
    assert console.dropped == 1 and "nobody" not in stream.text
    poller.listening = stream.fail = True
    console.say("broken")
    assert console.dropped == 2


def test_a_refusal_is_told_with_word_number_and_remedy():
    stream = FakeStream()
    rig = CaptureRig()
    narrator = Narrator(rig.unit, Console(stream, FakePoller()).say)
    for _ in range(300):
        rig.tick(0, 0)
        narrator.step()
    for _ in range(200):
        rig.tick(0, 0, button=1)
        narrator.step()
    assert stream.text.startswith("refused: not-flying (0, dynamic pressure")
    assert "arm the capture in flight" in stream.text
