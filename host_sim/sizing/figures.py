"""An answer as plain figures, for `--json` and for the table: one place that names them."""

from math import isfinite
from typing import Any

from host_sim.sizing.answer import FAST_RATE_KT_S, Answer
from host_sim.sizing.case import Case
from host_sim.sizing.false_changes import MINUTES
from host_sim.sizing.lag import tube_ms
from host_sim.sizing.late import Late
from host_sim.sizing.reach import Reach
from host_sim.sizing.unit_settings import flying_q_dpa
from host_sim.sizing.verdict import DELAY_BUDGET_MS, late_kt, room_kt, verdict_of
from host_sim.sizing.wing import impact_pa


def case_figures(case: Case) -> dict[str, Any]:
    """What is the same for every sensor."""
    return {
        "stall_kt": _short(case.stall_kt), "top_kt": _short(case.top_kt),
        "height_m": _short(case.height_m), "plumbing": case.plumbing,
        "probe_angle_deg": case.probe_deg, "stall_angle_deg": case.stall_deg,
        "stall_pa": _short(impact_pa(case.stall_kt)), "top_pa": _short(impact_pa(case.top_kt)),
        "flying_q_dpa_advised": flying_q_dpa(case),
        "overspeed_pc": case.overspeed_pc, "sideslip_deg": case.sideslip_deg,
        "limit_load_g": case.limit_load_g, "warm_up_k": case.warm_up_k,
        "change_k": case.change_k,
        "pitot_tube_ms": _short(tube_ms(case.pitot_line, case.height_m)),
        "angled_tube_ms": _short(tube_ms(case.angled_line, case.height_m)),
    }


def answer_figures(case: Case, answer: Answer) -> dict[str, Any]:
    """Everything about one pair of sensors."""
    verdict = verdict_of(case, answer)
    rooms = room_kt(case, answer)
    return {
        "name": answer.pair.name, "verdict": verdict.word, "dominant": verdict.dominant,
        "rule": verdict.rule.name, "because": verdict.rule.text,
        "rules": {rule.name: {"use": _short(rule.use), "fits_to": _short(rule.fits_to),
                              "marginal_to": _short(rule.marginal_to), "text": rule.text}
                  for rule in verdict.rules},
        "range": {"pitot": _reach(answer.reach[0]), "angled": _reach(answer.reach[1])},
        "at_stall": _at_stall(answer),
        "late": {place: {"sum_kt": _short(late_kt(answer, place)), "room_kt": _short(room),
                         **{cause: _late(late) for cause, late in answer.late[place].items()}}
                 for place, room in zip(("pressing", "stalling"), rooms, strict=True)},
        "zero": _zero(answer), "delay": _delay(answer), "false_changes": _changes(answer)}


def _at_stall(answer: Answer) -> dict[str, Any]:
    late, noise = answer.late["stall"], answer.noise
    return {
        "pitot_steps": _short(answer.steps[0]), "angled_steps": _short(answer.steps[1]),
        "half_a_step": _late(late["steps"]),
        "noise_ratio": _short(noise.ratio), "noise_lift_pm": _short(noise.lift_pm),
        "noise_kt": _short(noise.speed_kt), "noise_lift_pm_firmware": _short(noise.firmware_pm),
        "zero_error_before": _late(answer.before), "zero_error_after": _late(late["zero"]),
        "drift_left": _late(late["drift"]), "mismatch_1_kt_s": _late(late["tube mismatch"]),
        f"mismatch_{FAST_RATE_KT_S:.0f}_kt_s": _late(answer.fast_mismatch)}


def _changes(answer: Answer) -> dict[str, Any]:
    found = answer.changes
    return {"per_h": _short(found.per_h), "lift_pm": _short(found.lift_pm),
            "bound_per_h": _short(found.bound_per_h), "seen": found.seen, "minutes": MINUTES,
            "slack_pm": found.slack_pm}


def _zero(answer: Answer) -> dict[str, Any]:
    zeros = answer.zeroing
    return {"band_pa": [_short(answer.pair.pitot.band_pa), _short(answer.pair.angled.band_pa)],
            "left_pa": [_short(value) for value in zeros.left_pa],
            "drift_left_pa": [_short(value) for value in zeros.drift_left_pa],
            "first_taken": zeros.first_taken, "second_taken": zeros.second_taken,
            "follows_k": _short(zeros.follows_k)}


def _delay(answer: Answer) -> dict[str, Any]:
    return {**{name: _short(value) for name, value in vars(answer.delay).items()},
            "total_ms": _short(answer.delay.total_ms), "budget_ms": DELAY_BUDGET_MS,
            "mismatch_ms": _short(answer.mismatch_ms)}


def _reach(reach: Reach) -> dict[str, float | None]:
    return {"low_pa": _short(reach.low_pa), "high_pa": _short(reach.high_pa),
            "share": _short(reach.share)}


def _late(late: Late) -> dict[str, float | None]:
    return {"lift_pm": _short(late.lift_pm), "kt": _short(late.speed_kt)}


def _short(value: float) -> float | None:
    """Five digits; None for what has no limit (JSON has no infinity)."""
    return float(f"{value:.5g}") if isfinite(value) else None
