"""The tables of a review: as cells of text for the page and the summary."""

from dataclasses import dataclass

from host_sim.output.review_events import Event
from host_sim.output.review_flight import ReviewFlight, Span
from host_sim.output.review_stalls import Lead, Stall
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import health, states  # noqa: E402

NONE = "–"
EVENT_HEAD = ("what", "from", "to", "least speed margin", "in knots", "at", "IAS there",
              "least load margin, n available / n", "greatest n (1 s)", "as in a level turn of",
              "longest with less than 10 % speed margin", "lift known")
STALL_HEAD = ("stall", "at", "IAS", "marked by", "pressing before", "in knots", "in %",
              "stalling before", "in knots", "entry", "greatest n (1 s) in 3 s before",
              "pressing 5 kt and 5 % before")
FAULT_HEAD = ("word", "from", "to", "lasted", "lamp blinks", "sound")


@dataclass(frozen=True)
class Table:
    """title, head, rows: text. spans: first and last second of each row. bad: cells to point at,
    as (row, column). nothing: what to say where there is no row."""

    title: str
    head: tuple[str, ...]
    rows: list[list[str]]
    spans: list[tuple[float, float]]
    bad: frozenset[tuple[int, int]]
    nothing: str


def clock(seconds: float, digits: int = 1) -> str:
    """Minutes and seconds."""
    tenths = round(abs(seconds) * 10 ** digits)
    minutes, rest = divmod(tenths, 60 * 10 ** digits)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{minutes}:{rest / 10 ** digits:0{digits + 3 if digits else 2}.{digits}f}"


def _number(value: float | None, digits: int, unit: str = "") -> str:
    return NONE if value is None or value != value else f"{value:.{digits}f}{unit}"


def _percent(value: float | None, digits: int = 0) -> str:
    return NONE if value is None else f"{100 * value:.{digits}f} %"


def _span_s(flight: ReviewFlight, span: Span) -> tuple[float, float]:
    return flight.page_s(span[0]), flight.page_s(span[1])


def event_table(flight: ReviewFlight, events: list[Event]) -> Table:
    """Margins in the air, in approaches and in turns."""
    rows, bad = [], set()
    for number, event in enumerate(events):
        m, (from_s, to_s) = event.margins, _span_s(flight, event.span)
        rows.append([event.kind, clock(from_s), clock(to_s), _percent(m.speed),
                     _number(m.speed_kt, 1, " kt"),
                     NONE if m.at is None else clock(flight.page_s(m.at)),
                     _number(m.ias_kt, 0, " kt"), _number(m.load, 2), _number(m.load_most, 2),
                     _number(event.bank_deg, 0, "°"), _number(m.thin_s, 1, " s"),
                     _percent(m.known)])
        if m.thin_s:
            bad.add((number, 10))
        if m.known < 0.99:
            bad.add((number, 11))
    return Table("Approaches, turns, and the whole flight", EVENT_HEAD, rows,
                 [_span_s(flight, event.span) for event in events], frozenset(bad),
                 "The log has no flight in it: dynamic pressure never stayed above flying_q_dpa.")


def stall_table(flight: ReviewFlight, stalls: list[Stall]) -> Table:
    """Every stall, and the warning before it."""
    rows, bad, spans = [], set(), []
    for number, stall in enumerate(stalls):
        at_s = flight.page_s(stall.at)
        spans.append((at_s - 10, at_s + 5))
        press, warble = stall.pressing, stall.stalling
        rows.append([str(number + 1), clock(at_s), _number(stall.ias_kt, 1, " kt"), _marks(stall),
                     *_lead(press), _percent(press.share if press else None, 1), *_lead(warble),
                     _number(stall.entry_kt_s, 2, " kt/s"), _number(stall.load_most, 2),
                     {None: "another entry", True: "yes", False: "NO"}[stall.enough]])
        if stall.enough is False:
            bad.add((number, 11))
        if press is None or press.seconds == 0:
            bad.add((number, 4))
    return Table("Stalls, and the warning before each", STALL_HEAD, rows, spans, frozenset(bad),
                 "No stall was found in this log.")


def _lead(lead: Lead | None) -> list[str]:
    if lead is None:
        return ["not at all", NONE]
    return [f"{lead.seconds:.2f} s", f"{lead.knots:.1f} kt"]


def _marks(stall: Stall) -> str:
    if stall.ratio_s is None:
        return "lift peak"
    if stall.peak_s is None:
        return "ratio only"
    return f"ratio; lift peak {stall.peak_s - stall.ratio_s:+.2f} s"


def fault_table(flight: ReviewFlight) -> Table:
    """Every health word that says that something was wrong."""
    rows = []
    for (first, after), word in flight.faults:
        from_s, to_s = _span_s(flight, (first, after))
        sounded = (flight.state[first:after] == states.FAULT).any()
        rows.append([word, clock(from_s), clock(to_s), f"{to_s - from_s:.1f} s",
                     str(health.lamp_blinks(health.WORDS.index(word)) or NONE),
                     "fault sound" if sounded else
                     states.WORDS[int(flight.state[first:after].max())]])
    return Table("Faults that the unit told", FAULT_HEAD, rows,
                 [_span_s(flight, span) for span, _ in flight.faults], frozenset(),
                 "None.")
