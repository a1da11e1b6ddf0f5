"""The page of a review: one HTML file that needs nothing else, and no network."""

import json
from dataclasses import dataclass
from html import escape
from pathlib import Path
from string import Template

import numpy as np

from host_sim.output.review_compare import Comparison
from host_sim.output.review_events import DEFINITIONS as EVENT_WORDS
from host_sim.output.review_events import Event
from host_sim.output.review_flight import ReviewFlight, runs
from host_sim.output.review_margins import THIN
from host_sim.output.review_pack import pack, whole
from host_sim.output.review_rows import (
    event_table,
    fault_table,
    stall_table,
)
from host_sim.output.review_stalls import DEFINITIONS as STALL_WORDS
from host_sim.output.review_stalls import Stall
from host_sim.output.review_tables import as_html, difference_facts, difference_table
from host_sim.output.sound import PASS_HZ, PEAK, RATE_HZ, pwm_events
from host_sim.output.trace import known
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import health, states  # noqa: E402

_HERE = Path(__file__).parent
_SCRIPTS = ("data", "sound", "charts", "main", "keys")
_MARGIN_WORDS = (
    ("lift in use", "CL/CLmax: the share of the lift that the wing could give at this moment, as "
     "the calibration has it. 1.00 is the stall"),
    ("speed margin", "V/Vs - 1 with V/Vs = 1/sqrt(lift), at the load factor of the moment; in "
     "knots: indicated airspeed less the speed at which it would stall with that load factor"),
    ("load margin", "n available / n = 1/lift: how many times the present load factor the wing "
     "could carry at this speed"),
    ("longest with less than 10 %", f"longest unbroken time with a speed margin below {THIN:.0%}"),
    ("faults", "health words as the unit had them; hardware_notes/health_words.md says what each "
     "means. Times in which the windows fill, or the aeroplane is on the ground, are no faults"),
)


@dataclass(frozen=True)
class Review:
    """One log and what was found in it."""

    flight: ReviewFlight
    events: list[Event]
    stalls: list[Stall]


def page(reviews: list[Review], found: Comparison | None) -> str:
    """The whole page. found: where there are two logs."""
    names = " and ".join(review.flight.name for review in reviews)
    tables = []
    for review in reviews:
        if len(reviews) > 1:
            tables.append(f"<h2>{escape(review.flight.name)}</h2>")
        tables += [as_html(table) for table in (
            stall_table(review.flight, review.stalls), event_table(review.flight, review.events),
            fault_table(review.flight))]
    if found:
        one, two = (review.flight for review in reviews)
        tables.insert(0, "<section><h2>Two logs of one flight</h2>" + _list(
            difference_facts(one, two, found)) + "</section>"
            + as_html(difference_table(one, two, found)))
    return Template(_read("review_page.html")).substitute(
        title=escape(f"Flight review: {names}"), css=_read("review_page.css"),
        chart_css=_read("vendor/uPlot.min.css"), chart_js=_read("vendor/uPlot.iife.min.js"),
        licence=escape(_read("vendor/uPlot-LICENSE.txt")), tables="\n".join(tables),
        js="\n".join(_read(f"review_{name}.js") for name in _SCRIPTS),
        facts=_list([fact for review in reviews for fact in facts(review.flight)]),
        which=_which(reviews), legend=_legend(reviews), data=_data(reviews, found),
        definitions=_definitions())


def facts(flight: ReviewFlight) -> list[str]:
    """What was reviewed, in sentences."""
    settings = flight.settings
    rate = 1000 / float(np.median(np.diff(flight.now_ms))) if len(flight.now_ms) > 1 else 0
    lines = [f"{flight.name}: {len(flight.out)} samples, {rate:.0f} a second; 0:00 on this page "
             f"is {flight.first_ms / 1000:.3f} s in the log; plumbing {settings.word('plumbing')}",
             f"{flight.name}: {flight.made_with}",
             f"bands: calm from {settings.calm_pm / 1000:.2f}, pressing from "
             f"{settings.pressing_pm / 1000:.2f}, stalling from {settings.stalling_pm / 1000:.2f} "
             "of the lift", *(f"{flight.name}: {remark}" for remark in flight.remarks)]
    if not flight.calibrated:
        lines.append("NO CALIBRATION was given: there are no margins, and no margin sounds. "
                     "Add --calibration.")
    if not flight.has_load:
        lines.append("no accelerometer in the log: load factors and turns are not known")
    return lines


def _list(lines: list[str]) -> str:
    return '<ul class="facts">' + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _which(reviews: list[Review]) -> str:
    if len(reviews) == 1:
        return ""
    options = "".join(f'<option value="{i}">{escape(review.flight.name)}</option>'
                      for i, review in enumerate(reviews))
    return f'<label>Sound of <select id="which">{options}</select></label>'


def _legend(reviews: list[Review]) -> str:
    lines = ["bands: dotted calm, hatched pressing, cross-hatched stalling, falling hatch fault",
             "solid upright line with a triangle: a stall", "dotted upright line: a fault begins"]
    if len(reviews) > 1:
        lines.insert(0, f"solid black: {reviews[0].flight.name}; broken blue: "
                     f"{reviews[1].flight.name}. Bands as in the settings of the first")
    return "".join(f'<span class="key">{escape(line)}.</span> ' for line in lines)


def _definitions() -> str:
    words = (*STALL_WORDS, *EVENT_WORDS, *_MARGIN_WORDS)
    return "<dl>" + "".join(f"<dt>{escape(word)}</dt><dd>{escape(text)}.</dd>"
                            for word, text in words) + "</dl>"


def _data(reviews: list[Review], found: Comparison | None) -> str:
    flights = [review.flight for review in reviews]
    settings = flights[0].settings
    record = {
        "from_s": min(flight.page_s(0) for flight in flights),
        "to_s": max(flight.page_s(len(flight.out)) for flight in flights),
        "sound": {"rate_hz": RATE_HZ, "pass_hz": PASS_HZ, "peak": PEAK},
        "bands": [["calm", settings.calm_pm / 1000, settings.pressing_pm / 1000],
                  ["pressing", settings.pressing_pm / 1000, settings.stalling_pm / 1000],
                  ["stalling", settings.stalling_pm / 1000, 1.5]],
        "logs": [_log(flight) for flight in flights],
        "marks": sorted((mark for review in reviews for mark in _marks(review)),
                        key=lambda mark: mark["t"]),
        "stops": sorted({round(stop, 2) for review in reviews for stop in _stops(review)}),
        "difference": {"lift_pm": pack(whole(found.lift, 1000))} if found else None}
    return json.dumps(record, allow_nan=False).replace("<", "\\u003c")


def _log(flight: ReviewFlight) -> dict:
    times_us, hz, duty = np.array(pwm_events(flight.out), np.int64).reshape(-1, 3).T
    return {
        "name": flight.name, "offset_s": flight.offset_s, "time_ms": pack(flight.now_ms),
        "ias_ckt": pack(whole(flight.ias_kt, 100)),
        "ratio_bp": pack(whole(known(flight.out, "ratio_bp"), 1)),
        "lift_pm": pack(whole(flight.lift, 1000)),
        "load_mg": pack(whole(flight.load, 1000)) if flight.has_load else None,
        "states": _states(flight),
        "sound": {"time_ms": pack(times_us // 1000), "hz": pack(hz), "duty": pack(duty)}}


def _states(flight: ReviewFlight) -> list[list]:
    """[from, to, state, health word], on the page's time axis."""
    both = flight.state.astype(np.int64) * 1000 + flight.health
    return [[flight.page_s(first), flight.page_s(after), states.WORDS[int(flight.state[first])],
             health.WORDS[int(flight.health[first])]] for first, after in runs(both)]


def _marks(review: Review) -> list[dict]:
    flight = review.flight
    stalls = [{"t": flight.page_s(stall.at), "stall": True} for stall in review.stalls]
    return stalls + [{"t": flight.page_s(span[0]), "stall": False, "word": word}
                     for span, word in flight.faults]


def _stops(review: Review) -> list[float]:
    ticks = [stall.at for stall in review.stalls] + [event.span[0] for event in review.events]
    ticks += [span[0] for span, _ in review.flight.faults]
    return [review.flight.page_s(tick) for tick in ticks]


def _read(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")
