"""A slice of the fault campaign, and that the campaign itself can see what it looks for.

The whole of it: `python -m host_sim.campaign`. Cases A, B, C2, D4, E2.
"""

import copy
import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from alula import health, states
from host_sim.campaign.__main__ import main, run
from host_sim.campaign.expectations import EXPECTED
from host_sim.campaign.flights import Base, make_base, run_rows
from host_sim.campaign.judge import Outcome, Reference, Seen, judge, judge_reference
from host_sim.campaign.page import page
from host_sim.campaign.plan import MOMENTS, Case, cases, thin, wanted_of
from host_sim.campaign.table import as_json, failing, must_be_zero
from host_sim.runtimes.run import run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from host_sim.world.faults import FAULTS, lay_over, when_of
from host_sim.world.probe import PLUMBINGS

SLICE = 60
BASES = (("stall-straight", "port-static", 1), ("stall-straight", "pitot-port", 1),
         ("stall-straight", "opposed", 1), ("ordinary", "port-static", 1))


@cache
def flown() -> tuple[list[Reference], list[Outcome]]:
    return run(thin([case for case in cases((1,)) if case.base in BASES], SLICE))


@cache
def base() -> Base:
    return make_base(*BASES[0])


def seen(fault: str, state: int, word: str = "ok") -> Seen:
    """A flight into a stall with a fault, and a made-up unit that says the same all the time."""
    flight = base().flight
    case = Case(*BASES[0], fault, "before a stall")
    wanted = f"{fault}@170+60"
    injection = when_of(base().rows, wanted)
    changed = lay_over(base().rows, injection, 1, flight)
    reference = np.zeros((len(changed), len(OUT_COLUMNS)), np.int32)
    reference[:, OUT_COLUMNS.index("lift_pm")] = np.clip(flight.lift * 1000, 0, 1500)
    out = reference[injection.start:injection.stop].copy()
    out[:, OUT_COLUMNS.index("state")] = state
    out[:, OUT_COLUMNS.index("health")] = health.WORDS.index(word)
    return Seen(case, wanted, flight, injection, base().rows, changed, reference, out)


def test_the_slice_is_never_silent_near_the_stall():
    _, outcomes = flown()
    assert [one.replay for one in outcomes if one.silent] == []


def test_h10_no_false_alarm_without_a_fault():
    references, _ = flown()
    assert {one.replay: one.false_alarms for one in references} == {
        one.replay: 0 for one in references}
    assert len(references) == len(BASES)
    assert not any(one.silent_s > 1.0 for one in references)


def test_a1_a3_data_that_fail_outright_are_told_in_time_by_the_right_word():
    _, outcomes = flown()
    outright = [one for one in outcomes if not EXPECTED[one.fault].matters]
    assert len(outright) >= 10
    assert [one.replay for one in outright if one.verdict != "in time"] == []


def test_the_result_does_not_depend_on_how_many_work_on_it():
    few = [case for case in cases((1,)) if case.base == BASES[3] and case.phase == "flare"][:6]
    assert run(few, jobs=2) == run(few)


def test_a_case_decides_as_the_whole_flight_from_the_start_does():
    case = Case(*BASES[0], "pitot-water", "into a stall")
    wanted = wanted_of(case, base().flight)
    injection = when_of(base().rows, wanted)
    changed = lay_over(base().rows, injection, 1, base().flight)
    whole = run_stream(replace(base().stream, rows=changed))
    session = base().session()
    run_rows(session, base().rows[:injection.start])
    for _ in range(2):  # and a copy leaves the original alone
        part = run_rows(copy.deepcopy(session), changed[injection.start:])
        assert np.array_equal(part, whole[injection.start:])


@pytest.mark.parametrize("state", [states.QUIET, states.CALM])
def test_h3_a_unit_that_stays_quiet_into_the_stall_is_caught(state: int):
    outcome = judge(seen("angled-iced-30", state))
    assert outcome.silent and outcome.silent_s > 3.0
    assert outcome.verdict == "missed"
    assert must_be_zero([outcome], [])["silent near the stall"] == 1
    assert outcome.replay in failing([outcome])[0] and "SILENT" in failing([outcome])[0]


@pytest.mark.parametrize("state", [states.PRESSING, states.STALLING, states.FAULT])
def test_a_unit_that_sounds_is_not_silent(state: int):
    assert judge(seen("angled-iced-30", state)).silent_s == 0.0


def test_a_stall_sound_in_easy_flight_is_a_false_alarm():
    outcome = judge(seen("angled-silent", states.STALLING))
    assert outcome.false_s > 5.0


def test_a_wrong_word_is_caught_and_a_right_one_is_not():
    wrong = judge(seen("angled-silent", states.FAULT, "pitot-no-reply"))
    right = judge(seen("angled-silent", states.FAULT, "angled-no-reply"))
    assert (wrong.verdict, right.verdict) == ("wrong word", "in time")


def test_too_much_margin_near_the_stall_is_measured():
    rosy = seen("pitot-iced-30", states.QUIET)
    at = OUT_COLUMNS.index("lift_pm")
    rosy.out[:, at] = rosy.out[:, at] * 8 // 10
    assert judge(rosy).more_s > 3.0
    assert 0.19 < judge(rosy).hidden < 0.21
    assert judge(seen("pitot-iced-30", states.QUIET)).more_s == 0.0


def test_a_false_alarm_of_a_flight_without_a_fault_is_counted():
    rows = np.zeros((len(base().rows), len(OUT_COLUMNS)), np.int32)
    rows[2000:2100, OUT_COLUMNS.index("state")] = states.FAULT
    rows[3000:3100, OUT_COLUMNS.index("state")] = states.STALLING
    case = Case(*BASES[0], "", "")
    assert judge_reference(case, base().flight, rows).false_alarms == 2


def test_every_fault_meets_every_phase_and_plumbing_and_words_are_real():
    planned = list(cases())
    assert len(planned) >= 5000 and len(set(planned)) == len(planned)
    for fault in FAULTS:
        phases = {(case.phase, case.plumbing) for case in planned if case.fault == fault}
        assert len(phases) == (3 if {phase for phase, _ in phases} == {"whole flight"}
                               else len(MOMENTS) * len(PLUMBINGS))
    assert set(EXPECTED) == set(FAULTS)
    assert {word for row in EXPECTED.values() for word in row.words} <= set(health.WORDS)


def test_every_moment_exists_in_its_scenario():
    for moment in MOMENTS:
        if moment.scenario in ("stall-straight", "ordinary"):
            case = Case(moment.scenario, "port-static", 1, "pitot-off", moment.phase)
            at_s = float(wanted_of(case, make_base(*case.base).flight).split("@")[1].split("+")[0])
            assert at_s >= 2.0


def test_page_and_json_hold_the_run():
    references, outcomes = flown()
    text = page(outcomes, references)
    assert "do not edit" in text.splitlines()[0] and "never replaces" in text
    assert all(f"| `{one.fault}` |" in text for one in outcomes)
    found = json.loads(json.dumps(as_json(outcomes, references), allow_nan=False))
    assert len(found["flights"]) == len(outcomes) == SLICE


@pytest.mark.parametrize("words", [["--fault", "nonsense"], ["--seeds", "0"], ["--jobs", "0"],
                                   ["--page", "--quick"], ["--count", "0"]])
def test_bad_arguments_end_in_2_and_one_line(words: list[str], capsys):
    assert main(words) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_the_command_prints_a_table_and_ends_in_0_or_1(capsys, tmp_path):
    file = tmp_path / "campaign.json"
    code = main(["--fault", "pitot-silent", "--count", "1", "--jobs", "1", "--json", str(file)])
    shown = capsys.readouterr().out
    assert shown.startswith("fault") and "must be 0" in shown
    assert code == int(any(json.loads(file.read_text())["must_be_zero"].values()))


def test_a_replay_line_names_what_alula_fly_takes():
    _, outcomes = flown()
    words = outcomes[0].replay.split()
    assert words[:2] == ["alula", "fly"] and words[3::2] == ["--plumbing", "--seed", "--fault"]
