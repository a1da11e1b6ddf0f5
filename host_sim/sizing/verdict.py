"""Fits, marginal, or does not fit: every rule with its number, and the term that dominates.

A rule has a use and two limits: up to the first it fits, up to the second it is marginal. The
verdict is that of the worst rule.
"""

from dataclasses import dataclass

from host_sim.sizing.answer import Answer
from host_sim.sizing.case import Case
from host_sim.sizing.late import LEAST_PM
from host_sim.sizing.unit_settings import FLYING_SHARE

FITS, MARGINAL, NO_FIT = "fits", "marginal", "does not fit"
ROOTS = ("range", "least dynamic pressure", "first zero")
LEVELS = (FITS, MARGINAL, NO_FIT)
DELAY_BUDGET_MS = 150.0  # tubes, smoothing and sound together; beyond twice that a pull-up ...
DELAY_MOST_MS = 300.0  # ... warns too late to act on (our own budget; no source)
MARGIN_KT, MARGIN_SHARE = 5.0, 0.05  # 14 CFR 23.207(c) and 25.207(c): greater of 5 kt and 5 %
RESERVE = 0.5  # of the room, kept for what this cannot see: Reynolds number, rain, bugs, slip
# One in ten minutes, one a minute, spent at the very worst lift (common practice, no source).
CHANGES_FEW_PER_H, CHANGES_MANY_PER_H = 6.0, 60.0
FLOOR_GAP_PA = 10.0  # flying_q_dpa stays at least so far above min_q_dpa


@dataclass(frozen=True)
class Rule:
    """name; use against fits_to and marginal_to, in `unit`; text: the rule and its number."""

    name: str
    use: float
    fits_to: float
    marginal_to: float
    text: str

    @property
    def level(self) -> int:
        """Index into LEVELS."""
        if self.use <= self.fits_to:
            return 0
        return 1 if self.use <= self.marginal_to else 2

    @property
    def share(self) -> float:
        """Use of what still fits; infinite where nothing does."""
        return self.use / self.fits_to if self.fits_to > 0.0 else float("inf")


@dataclass(frozen=True)
class Verdict:
    """word: one of LEVELS; rule: the worst; dominant: what has the largest part in it."""

    word: str
    rule: Rule
    dominant: str
    rules: tuple[Rule, ...]


def verdict_of(case: Case, answer: Answer) -> Verdict:
    """Judge an answer."""
    late = _late_rules(case, answer)
    rules = (_range_rule(case, answer), _floor_rule(answer), _zero_rule(answer),
             *late, _delay_rule(answer), _changes_rule(answer))
    # where a root cause fails, what follows from it is not the reason
    worst = max(rules, key=lambda rule: (rule.level, rule.level == 2 and rule.name in ROOTS,
                                         rule.share))
    if worst in late:
        place = "pressing" if worst is late[0] else "stalling"
        causes = answer.late[place]
        dominant = max(causes, key=lambda cause: causes[cause].speed_kt)
        if worst.marginal_to <= 0.0:
            dominant = f"{place}_pm"
    elif worst.name == "delay":
        dominant = max(vars(answer.delay), key=lambda part: getattr(answer.delay, part))
        dominant = dominant.removesuffix("_ms")
    else:
        dominant = worst.name
    return Verdict(LEVELS[worst.level], worst, dominant, rules)


def late_kt(answer: Answer, place: str) -> float:
    """Every cause of lateness at a place, worst signs, added up: knots."""
    return sum(late.speed_kt for late in answer.late[place].values())


def room_kt(case: Case, answer: Answer) -> tuple[float, float]:
    """How late (pressing, stalling) may begin: pressing before the regulation's margin is gone,
    stalling before the stall itself."""
    settings = answer.settings
    pressing, stalling = (case.stall_kt / (lift / 1000.0) ** 0.5
                          for lift in (settings.pressing_pm, settings.stalling_pm))
    margin_kt = max(MARGIN_KT, MARGIN_SHARE * case.stall_kt)
    return pressing - case.stall_kt - margin_kt, stalling - case.stall_kt


def _late_rules(case: Case, answer: Answer) -> tuple[Rule, Rule]:
    rooms = room_kt(case, answer)
    settings = answer.settings
    found = []
    for place, room, before in zip(("pressing", "stalling"), rooms, (
            "5 kt or 5 % above the stall (14 CFR 23.207(c), 25.207(c))", "the stall"),
            strict=True):
        use = late_kt(answer, place)
        text = (f"{place} may begin {use:.2f} kt late; room {room:.2f} kt before {before}, half "
                "of it kept for what is not counted here")
        if use == float("inf"):
            text = (f"{place} may never begin: with such errors the unit may read less than "
                    f"{LEAST_PM} of 1000 of the lift")
        if room <= 0.0:
            text = (f"{place} begins {-room:.2f} kt too near the stall before any error: lower "
                    f"{place}_pm (now {getattr(settings, place + '_pm')})")
        found.append(Rule(f"{place} late", use, RESERVE * room, room, text))
    return found[0], found[1]


def _range_rule(case: Case, answer: Answer) -> Rule:
    use = max(one.share for one in answer.reach)
    bare = max(one.share for one in answer.bare_reach)
    text = (f"uses {_percent(use)} of the range at {1 + case.overspeed_pc / 100:.2f} x top speed "
            f"with {case.sideslip_deg:g} deg of slip, {_percent(bare)} without these margins")
    # marginal if only the margins do not fit
    return Rule("range", use, 1.0, float("inf") if bare <= 1.0 else 1.0, text)


def _percent(share: float) -> str:
    return "all and more" if share == float("inf") else f"{100 * share:.0f} %"


def _floor_rule(answer: Answer) -> Rule:
    floor_pa = answer.settings.min_q_dpa / 10.0 + FLOOR_GAP_PA
    room_pa = FLYING_SHARE * answer.stall_pa
    return Rule("least dynamic pressure", floor_pa, room_pa, room_pa,
                f"min_q_dpa + 100 is {floor_pa:.0f} Pa of {room_pa:.0f} Pa (0.9 of the stall's): "
                "below it the unit does not judge; lower min_q_dpa if this fails")


def _zero_rule(answer: Answer) -> Rule:
    band_pa = max(answer.pair.pitot.band_pa, answer.pair.angled.band_pa)
    first_pa = answer.settings.zero_first_dpa / 10.0
    text = (f"error band +-{band_pa:.0f} Pa; the unit takes a first zero up to {first_pa:.0f} Pa "
            "(zero_first_dpa)")
    if not answer.zeroing.first_taken and band_pa <= first_pa:
        text += ", but refused one that noise and steps made unquiet (zero_spread_dpa)"
    elif band_pa > first_pa:
        text += ": raise it, or what no zero takes away hides the wing's lift"
    use_pa = band_pa if answer.zeroing.first_taken else max(band_pa, 1.001 * first_pa)
    return Rule("first zero", use_pa, first_pa, first_pa, text)


def _delay_rule(answer: Answer) -> Rule:
    total_ms = answer.delay.total_ms
    return Rule("delay", total_ms, DELAY_BUDGET_MS, DELAY_MOST_MS,
                f"{total_ms:.0f} ms from port to ear; budget {DELAY_BUDGET_MS:.0f} ms, and never "
                f"{DELAY_MOST_MS:.0f} ms")


def _changes_rule(answer: Answer) -> Rule:
    found = answer.changes
    rate = few(found.per_h) if found.seen else f"at most {few(found.per_h)}"
    return Rule("noise", found.per_h, CHANGES_FEW_PER_H, CHANGES_MANY_PER_H,
                f"{rate} false changes an hour at lift {found.lift_pm:.0f}; fits up to "
                f"{CHANGES_FEW_PER_H:g}, never more than {CHANGES_MANY_PER_H:g}")


def few(per_h: float) -> str:
    """A rate for people."""
    if per_h < 0.01:
        return "<0.01"
    return f"{per_h:.2f}" if per_h < 10.0 else f"{per_h:.0f}"
