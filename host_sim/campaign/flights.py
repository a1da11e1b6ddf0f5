"""Flies the cases: each base flight once, each fault from the moment before it begins.

The unit, its drivers, loop and bench are copied at that moment, so that a case decides exactly as
`alula fly SCENARIO --fault ...` does, without flying there again.
"""

import copy
from dataclasses import dataclass

import numpy as np

from host_sim.campaign.judge import Outcome, Reference, Seen, judge, judge_reference
from host_sim.campaign.plan import AFTER_S, Case, wanted_of
from host_sim.fly import perfect_calibration, scenario_settings, sensor_rows, stored_zero
from host_sim.runtimes.run import Stream, run_rows
from host_sim.runtimes.session import BenchSession, make_session
from host_sim.world.faults import lay_over, when_of
from host_sim.world.flight import Flight, fly
from host_sim.world.scenario import load_scenario


@dataclass(frozen=True)
class Base:
    """A flight without a fault: the truth, what the sensors sent, and what the unit needs."""

    flight: Flight
    rows: np.ndarray
    stream: Stream

    def session(self) -> BenchSession:
        """The unit on its bench, just switched on."""
        return make_session(self.stream.job(len(self.rows)))


def make_base(scenario: str, plumbing: str, seed: int) -> Base:
    """As `alula fly` would fly it."""
    flight = fly(load_scenario(scenario), seed, plumbing)
    rows = sensor_rows(flight, seed)
    settings = scenario_settings(flight.scenario, plumbing, {})
    return Base(flight, rows,
                Stream(rows, settings, perfect_calibration(flight),
                       stored_zero(flight.scenario), "bench"))


def fly_cases(group: list[Case]) -> tuple[Reference, list[Outcome]]:
    """All cases over one base flight, and the base flight itself."""
    first = group[0]
    base = make_base(*first.base)
    reference = run_rows(base.session(), base.rows)
    wanted = [(case, wanted_of(case, base.flight)) for case in group]
    planned = sorted(((when_of(base.rows, text), case, text) for case, text in wanted),
                     key=lambda one: (one[0].start, one[2]))
    session, at = base.session(), 0
    outcomes = []
    for injection, case, text in planned:
        if injection.start > at:
            run_rows(session, base.rows[at:injection.start])
            at = injection.start
        changed = lay_over(base.rows, injection, case.seed, base.flight)
        stop = min(injection.stop + round(AFTER_S * base.flight.rate_hz), len(changed))
        out = run_rows(copy.deepcopy(session), changed[at:stop])
        seen = Seen(case, text, base.flight, injection, base.rows, changed, reference, out)
        outcomes.append(judge(seen))
    return judge_reference(first, base.flight, reference), outcomes
