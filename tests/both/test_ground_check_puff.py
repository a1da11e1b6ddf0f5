"""The puff test on the bench: real drivers, hoses that can be wrong. Case B6.

Both interpreters."""

from alula import figures, states
from alula.ground_check import steps
from alula.record_payloads import SETTINGS
from tests.both.check_rig import Bench, begun

PLUMBED = ("port-static", "pitot-port", "opposed")


def test_right_hoses_pass_in_every_plumbing():
    for plumbing in PLUMBED:
        bench = begun(plumbing)
        assert bench.puff_all(), bench.said[-6:]
        asked = [f for f in bench.figures if figures.PORT_ONE <= f <= figures.PORT_FOUR]
        assert asked == [figures.PORT_ONE + i for i in range(len(bench.hoses.ports))]
        assert bench.run(1000, lambda bench=bench: figures.ACCEPTED in bench.figures)
        for port in bench.hoses.ports:
            assert any("at the %s port" % port in line for line in bench.said)


def test_b6_wrong_hoses_are_refused_named_and_asked_for_again_until_they_are_right():
    bench = begun("port-static")
    bench.hoses.swap_ports("pitot", "angled")
    assert not bench.puff_all()
    assert any("hose of the pitot port goes where that of the angled" in line
               for line in bench.said), bench.said[-3:]
    assert bench.checks.step == steps.PUFF  # no way on
    bench.press(200)
    assert bench.checks.step == steps.PUFF and bench.checks.puff.port == 0
    told = bench.ask("check table")
    assert told["failed"] is True and "pitot port" in told["hoses"][0]
    assert bench.ask("check next")["now"] == "puff"
    assert not bench.puff_all()
    bench.hoses.swap_ports("pitot", "angled")
    assert bench.puff_all()
    assert bench.ask("check table")["hoses"] == []


def test_b6_a_dead_hose_and_a_reversed_sensor_are_told():
    bench = begun("port-static")
    bench.hoses.at["angled-high"] = None
    assert not bench.puff_all()
    assert any("nothing answers to the angled port" in line for line in bench.said)
    bench.hoses.at["angled-high"] = "angled"
    bench.hoses.swap_connectors("pitot-high", "pitot-low")
    assert not bench.puff_all()
    assert any("pitot sensor's two hoses" in line for line in bench.said)


def test_a_wrong_sense_in_the_settings_is_found_like_reversed_hoses():
    bench = begun("pitot-port", angled_sense="reversed")
    assert not bench.puff_all()
    assert any("angled sensor's two hoses" in line for line in bench.said)


def test_a_breath_that_is_too_strong_is_asked_for_again():
    bench = begun()
    assert bench.run(3000, lambda: bench.checks.puff._stage == 1)
    bench.puff("pitot", 1200, 200)
    bench.run(500)
    assert figures.EASE in bench.figures and bench.checks.puff.port == 0
    assert not bench.unit.phase.flying and bench.checks.step == steps.PUFF
    assert bench.puff_all()


def test_a_breath_on_two_ports_at_once_is_read_by_the_stronger_one():
    bench = begun()
    moving = {"on": False}

    def spill() -> None:  # a fifth of the breath at the pitot reaches the angled port
        if moving["on"]:
            bench.pressures["angled"] = bench.pressures["pitot"] // 5

    bench.moves = spill
    assert bench.run(3000, lambda: bench.checks.puff._stage == 1)
    moving["on"] = True
    bench.puff("pitot")
    moving["on"] = False
    bench.pressures["angled"] = 0
    bench.run(600)
    assert list(bench.checks.puff.wiring.seen)[:2] == [1, 0]


def test_wind_is_waited_out_and_said():
    bench = begun()
    state = {"i": 0}

    def wind() -> None:
        state["i"] += 1
        bench.pressures["pitot"] = 120 * (state["i"] // 20 % 2)

    bench.moves = wind
    bench.run(21000)
    assert bench.checks.puff._stage == 0 and any("not still" in line for line in bench.said)
    bench.moves = None
    bench.pressures["pitot"] = 0
    assert bench.puff_all()


def test_blowing_disturbs_neither_the_zero_nor_the_doubts():
    bench = begun("port-static")
    zeros = (bench.unit.pitot.zero_dpa, bench.unit.angled.zero_dpa)
    for _ in range(3):
        bench.pressures["angled"] = 900  # 90 Pa on the angled port alone: elsewhere a dead pitot
        bench.run(1500)
        assert bench.unit.state == states.QUIET
        bench.pressures["angled"] = 0
        bench.run(1500)
    assert (bench.unit.pitot.zero_dpa, bench.unit.angled.zero_dpa) == zeros


def test_a_take_off_ends_it_at_once_and_the_unit_is_the_unit():
    bench = begun()
    bench.run(2000)
    q = {"dpa": 0}

    def roll() -> None:
        q["dpa"] = min(q["dpa"] + 12, 6000)
        bench.pressures["pitot"] = q["dpa"]
        bench.pressures["angled"] = q["dpa"] // 10

    bench.moves = roll
    passed = {}

    def seen() -> bool:
        if "fast" not in passed and bench.unit.pitot.dpa >= 1300:
            passed["fast"] = bench.board.clock.elapsed_ms()
        return bench.unit.phase.flying

    assert bench.run(6000, seen)
    now_ms = bench.board.clock.elapsed_ms()
    assert now_ms - passed["fast"] <= 510  # flying_ms, as without a check
    assert bench.checks.step == steps.OFF and not bench.checks.handling
    bench.run(4000)
    bench.moves = None
    while bench.pressures["angled"] < 4800:  # lift 1000
        bench.pressures["angled"] += 30
        bench.run(10)
    bench.run(500)
    assert bench.unit.state == states.STALLING
    told = bench.ask("check all")
    assert told["ok"] is False


def test_settings_stay_as_they_are():
    bench = begun()
    before = bench.vault.load(SETTINGS)
    bench.puff_all()
    assert bench.vault.load(SETTINGS) == before


def test_faults_keep_the_checks_from_beginning():
    bench = Bench()
    bench.board.angled_i2c.lines.hold_for_ever()
    bench.run(2000)
    assert bench.unit.state == states.FAULT
    told = bench.ask("check puff")
    assert told["ok"] is False and "fault" in told["why"]
    bench.press(200)
    assert bench.checks.step == steps.OFF and any("refused" in line for line in bench.said)
    bench.board.angled_i2c.lines.release()
    bench.run(2000)
    assert bench.ask("check puff")["ok"] is True
    bench.board.pitot_i2c.lines.hold_for_ever()
    bench.run(1000)
    assert bench.checks.step == steps.OFF and bench.unit.state == states.FAULT
