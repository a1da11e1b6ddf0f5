"""What a flight with a fault came to, judged against the truth of the world."""

from dataclasses import dataclass

import numpy as np

from host_sim.campaign.expectations import EXPECTED, Expectation
from host_sim.campaign.ideal import lift_read
from host_sim.campaign.plan import Case
from host_sim.output.trace import column, known
from host_sim.runtimes.paths import use_firmware
from host_sim.world.faults import Injection
from host_sim.world.flight import Flight

use_firmware()

from alula import health, states  # noqa: E402
from alula.settings import Settings  # noqa: E402

_DEEP_LIFT, _SILENT_S = 0.85, 1.0
_NEAR_LIFT, _MORE_SHARE = 0.694, 0.9  # near the stall: 1.20 Vs; 10 % too little lift shown
_FALSE_LIFT = 0.6
_MATTERS_LIFT, _MATTERS_S = 0.10, 0.5
_MATTERS_SHARE = Settings().balance_pm / 1000  # what the unit says that it lets pass
_STEADY_S = 1.0
_RELEASE_S = Settings().release_ms / 1000 + 0.3  # a stall sound outlasts the stall, window and all


@dataclass(frozen=True)
class Seen:
    """All that is known of a flight. out: decisions from the fault's first row on; reference:
    those of the flight without it, whole; clean, changed: input rows, whole."""

    case: Case
    wanted: str
    flight: Flight
    injection: Injection
    clean: np.ndarray
    changed: np.ndarray
    reference: np.ndarray
    out: np.ndarray

    @property
    def span(self) -> slice:
        """The rows that `out` belongs to."""
        return slice(self.injection.start, self.injection.start + len(self.out))


@dataclass(frozen=True)
class Outcome:
    """verdict: "in time", "late", "missed", "undetected" (missed, as foretold), "wrong word", "no
    harm" (not told, and not wrong for longer than the unit may take), "borne". told_s: from when
    it was due. silent_s: longest silence near the stall after the time allowed; early_s: before
    it was over. false_s: stall sound with plenty of
    margin. more_s: too much margin shown near the stall before it was told. hidden: greatest lift
    share hidden while nothing was told. recovery_s: after the end of the fault; None where the
    flight or the watch ended too soon to say, infinite where it did not recover."""

    replay: str
    fault: str
    phase: str
    plumbing: str
    verdict: str
    word: str
    told_s: float | None
    silent_s: float
    early_s: float
    false_s: float
    more_s: float
    hidden: float
    recovery_s: float | None

    @property
    def silent(self) -> bool:
        """Silent near the stall for too long, although the fault can be told."""
        return self.silent_s > _SILENT_S and not EXPECTED[self.fault].undetectable


@dataclass(frozen=True)
class Reference:
    """A flight without a fault: how long it was, and how often the unit raised a false alarm."""

    replay: str
    hours: float
    false_alarms: int
    silent_s: float


def longest_s(mask: np.ndarray, rate_hz: int) -> float:
    """Length of the longest unbroken stretch of True."""
    starts, ends = _stretches(mask)
    return float((ends - starts).max(initial=0)) / rate_hz


def _stretches(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    edges = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def _deep(flight: Flight, span: slice) -> np.ndarray:
    beyond = flight.alpha_deg[span] >= flight.stall_alpha_deg[span]
    return ~flight.on_ground[span] & ((flight.lift[span] > _DEEP_LIFT) | beyond)


def _easy(flight: Flight) -> np.ndarray:
    """Plenty of margin, and for longer than a sound may outlast the stall."""
    rows = round(_RELEASE_S * flight.rate_hz)
    padded = np.concatenate([np.full(rows, flight.lift[0]), flight.lift])
    return np.lib.stride_tricks.sliding_window_view(padded, rows + 1).max(axis=1) < _FALSE_LIFT


def judge(seen: Seen) -> Outcome:
    """The outcome of one flight."""
    flight, out, span = seen.flight, seen.out, seen.span
    state = column(out, "state")
    expected = EXPECTED[seen.case.fault]
    told = _told(out, expected)
    told[seen.injection.stop - seen.injection.start:] = False  # what is told later is recovery
    due = _due(seen, expected)
    verdict, word, told_s = _verdict(seen, expected, told, due)
    shown, lift = known(out, "lift_pm") / 1000, flight.lift[span]
    before = known(seen.reference, "lift_pm")[span] / 1000
    early = _early(len(out), due, expected, flight.rate_hz)
    air, quiet = ~flight.on_ground[span], state <= states.CALM
    unsaid = air & (np.cumsum(told) == 0) & (state != states.FAULT)
    more = unsaid & (lift > _NEAR_LIFT) & (shown < _MORE_SHARE * lift) & (
        shown < _MORE_SHARE * before)
    steady = column(seen.reference, "state")[span] != states.STALLING
    false = (state == states.STALLING) & steady & _easy(flight)[span] & ~np.isnan(shown)
    gap = np.where(unsaid, before - shown, 0.0)
    return Outcome(
        replay_line(seen.case, seen.wanted), seen.case.fault, seen.case.phase,
        seen.case.plumbing, verdict, word, told_s,
        longest_s(_deep(flight, span) & quiet & ~early, flight.rate_hz),
        longest_s(_deep(flight, span) & quiet & early, flight.rate_hz),
        float(false.sum()) / flight.rate_hz, float(more.sum()) / flight.rate_hz,
        max(0.0, float(np.nan_to_num(gap).max())), _recovery_s(seen, state))


def replay_line(case: Case, wanted: str = "") -> str:
    """The command that flies this again."""
    line = f"alula fly {case.scenario} --plumbing {case.plumbing} --seed {case.seed}"
    return f"{line} --fault {wanted}" if wanted else line


def _told(out: np.ndarray, expected: Expectation) -> np.ndarray:
    """Ticks that say "cannot know"; a stall sound that outlives its data says it by the lamp."""
    state, word = column(out, "state"), column(out, "health")
    codes = [code for code, name in enumerate(health.WORDS) if name in expected.words]
    return (state == states.FAULT) | ((state == states.STALLING) & np.isin(word, codes))


def _due(seen: Seen, expected: Expectation) -> tuple[int, float] | None:
    """Tick from which the fault ought to be told, and for how long it does harm; None: never."""
    if not expected.matters:
        return 0, float(seen.injection.stop - seen.injection.start) / seen.flight.rate_hz
    span = seen.span
    right = lift_read(seen.flight, seen.clean, span)
    wrong = np.abs(lift_read(seen.flight, seen.changed, span) - right) > np.maximum(
        _MATTERS_LIFT, _MATTERS_SHARE * right)
    starts, ends = _stretches(wrong & ~seen.flight.on_ground[span])
    long_s = (ends - starts) / seen.flight.rate_hz
    lasting = np.flatnonzero(long_s > max(_MATTERS_S, expected.within_s))
    if not len(lasting):
        return None
    return int(starts[lasting[0]]), float(long_s[lasting[0]])


def _early(count: int, due: tuple[int, float] | None, expected: Expectation,
           rate_hz: int) -> np.ndarray:
    """Ticks at which nothing needs to have been told yet."""
    allowed = count if due is None else due[0] + round((expected.within_s + _SILENT_S) * rate_hz)
    return np.arange(count) < allowed


def _verdict(seen: Seen, expected: Expectation, told: np.ndarray,
             due: tuple[int, float] | None) -> tuple[str, str, float | None]:
    """Verdict, the first word told, and how late."""
    if not told.any():
        return _untold(expected, due is not None), "", None
    first = int(np.argmax(told))
    word = health.WORDS[column(seen.out, "health")[first]]
    told_s = max(0, first - (due[0] if due else first)) / seen.flight.rate_hz
    if word not in expected.words:
        return "wrong word", word, told_s
    return ("late" if told_s > expected.within_s and not expected.borne else "in time",
            word, told_s)


def _untold(expected: Expectation, harm: bool) -> str:
    if expected.borne or not harm:
        return "borne" if expected.borne else "no harm"
    return "undetected" if expected.undetectable else "missed"


def _recovery_s(seen: Seen, state: np.ndarray) -> float | None:
    """From the end of the fault until the fault sound is over for good, as far as one can see."""
    end = seen.injection.stop - seen.injection.start
    after = np.flatnonzero(state[end:] == states.FAULT)
    if not len(after):
        return 0.0 if (state[:end] == states.FAULT).any() and len(state) > end else None
    if after[-1] < len(state) - end - round(_STEADY_S * seen.flight.rate_hz):
        return float(after[-1] + 1) / seen.flight.rate_hz
    ends = seen.flight.on_ground[seen.span][-1] or len(state) + seen.injection.start == len(
        seen.clean)
    return None if ends else float("inf")


def judge_reference(case: Case, flight: Flight, out: np.ndarray) -> Reference:
    """False alarms of a flight without a fault: fault sounds, and stall sounds without cause."""
    state = column(out, "state")
    false = (state == states.FAULT) | ((state == states.STALLING) & _easy(flight))
    starts, _ = _stretches(false)
    silent = _deep(flight, slice(None)) & (state <= states.CALM)
    return Reference(replay_line(case), float(flight.time_s[-1]) / 3600.0, len(starts),
                     longest_s(silent, flight.rate_hz))
