"""The page of a tuning: one HTML file that needs nothing else, and no network."""

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

import host_sim.output
from host_sim.tuning.choosing.result import Held, Side, Tuning, changed
from host_sim.tuning.choosing.verdict import checks, kept, verdict, why_not
from host_sim.tuning.measuring.measures import DEFINITIONS
from host_sim.tuning.measuring.theory import __doc__ as THEORY
from host_sim.tuning.telling import pictures
from host_sim.tuning.telling.table import CAUTION, comparison, gained, settings_rows

_CSS = Path(host_sim.output.__file__).with_name("review_page.css")
_MORE = "svg { width: 100%; height: auto; background: #fff; } figure { margin: .5rem 0; }\n"
_FRONT_MOST = 40
_TRADE = ("Delay against noise. Left is sooner, down is quieter; darker dots are restless. A "
          "circle: no other candidate beats it in delay, noise or unrest without losing in "
          "another. The broken line is the best that a two-state filter can do with the bare "
          "words of these sensors (steady-state Kalman, Benedict-Bordner gains): best in the sum "
          "of squared lags, so a candidate with a lead may lie a little below it; the unit's "
          "median of three costs one sample, which the line does not pay.")

_MOVED = ("One setting moved, all others as proposed: above to less, below to more. Words in "
          "place of a bar say why it may not be proposed. A bar to the left would be better than "
          "the proposal: then it lies outside the grid, or the search was too short.")


def page(tuning: Tuning, name: str, version: int, sensors: str | None) -> str:
    """The whole page."""
    title = escape(f"Tuning of {name}, version {version}")
    parts = [
        f"<h1>{title}</h1>", f'<p class="caution"><strong>{escape(CAUTION)}</strong></p>',
        f"<p><strong>{escape(verdict(tuning))}</strong></p>",
        f"<p>{escape(gained(tuning))}</p>", _facts(tuning, sensors),
        "<h2>Settings</h2>", _table(("setting", "shipped", "proposal"), settings_rows(tuning)),
        "<h2>The trade-off</h2>", _figure(pictures.trade_off(tuning), _TRADE),
        _figure(pictures.unrest(tuning), "The other two sides of the same front."),
        "<h2>What was measured</h2>",
        _table(("measure", "unit", "shipped", "proposal"), comparison(tuning)),
        "<h2>Every stall</h2>", _figure(pictures.leads(tuning), "Warning lead and margin at "
                                        "onset of each stall, shipped and proposed."),
        "<h2>How firm is it?</h2>",
        _figure(pictures.sensitivity(tuning), _MOVED),
        _table(("moved", "to", "delay, ms", "noise, pm", "unrest", "least margin, kt", "misses",
                "cost"), [_side(tuning, side) for side in tuning.sides]),
        "<h3>Without one group of flights at a time</h3>", _folds(tuning),
        "<h2>The front</h2>", _front(tuning), "<h2>Definitions</h2>", _definitions(tuning)]
    css = _CSS.read_text(encoding="utf-8") + _MORE
    return ('<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>{title}</title>\n<style>\n{css}</style></head>\n<body>\n"
            + "\n".join(parts) + "\n</body></html>\n")


def _facts(tuning: Tuning, sensors: str | None) -> str:
    fleet, wing = tuning.fleet, tuning.wing
    hours = sum(seen["hours"] for seen in tuning.shipped.seen)
    lines = [
        f"{len(fleet.flights)} flights, {hours:.2f} h in the air, {tuning.shipped.all.stalls} "
        f"stalls (from: {fleet.flights[0].stalls_from}); plumbing {wing.plumbing}, "
        f"{1000 // wing.period_ms} samples a second",
        f"noise of one word: pitot {wing.noise_dpa[0] / 10:.2f} Pa, angled "
        f"{wing.noise_dpa[1] / 10:.2f} Pa; 1 g stall at {wing.q_stall_dpa / 10:.0f} Pa",
        f"{len(tuning.judged)} candidates judged, {tuning.searched} of them beside the grid's "
        f"values; {tuning.illegal} combinations break the unit's own rules",
        f"sensor configuration {sensors}: a unit with another one refuses the settings file"
        if sensors else "the flights do not name the sensors: the settings file is bound to no "
        "sensor configuration, and a unit will refuse it", *checks(tuning), *fleet.notes]
    return '<ul class="facts">' + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _figure(svg: str, text: str) -> str:
    return f"<figure>{svg}<figcaption>{escape(text)}</figcaption></figure>"


def _table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in header)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
                   for row in rows)
    return (f'<div class="table"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody>'
            "</table></div>")


def _side(tuning: Tuning, side: Side) -> tuple[str, ...]:
    one, why = side.judged, why_not(tuning, side.judged)
    margins = one.all.margins_kt
    return (side.name, str(side.value), f"{1000 * one.delay_s:.0f}", f"{one.noise_pm:.2f}",
            f"{one.all.unrest:.1f}", f"{min(margins):.1f}" if margins else "-",
            str(one.all.misses), why or f"{side.cost:.3f}")


def _folds(tuning: Tuning) -> str:
    return _table(("left out", "the others would choose", "its cost there", "the proposal's",
                   "the shipped values'", "holds there"), [_fold(one) for one in tuning.held])


def _fold(one: Held) -> tuple[str, ...]:
    return (", ".join(one.flights),
            "-" if one.favourite is None else changed(one.favourite.values),
            "-" if one.favourite_cost is None else f"{one.favourite_cost:.3f}",
            f"{one.proposal_cost:.3f}", f"{one.shipped_cost:.3f}",
            "-" if one.favourite is None else "yes" if one.holds else "no")


def _front(tuning: Tuning) -> str:
    rows = [(changed(one.values), f"{1000 * one.delay_s:.0f}", f"{one.noise_pm:.2f}",
             f"{one.all.unrest:.1f}", "yes" if one.values in tuning.verified else "no",
             why_not(tuning, one) or f"{tuning.chooser.total(one):.3f}")
            for one in tuning.front[:_FRONT_MOST]]
    more = len(tuning.front) - len(rows)
    return _table(("candidate", "delay, ms", "noise, pm", "unrest", "firmware too", "cost"),
                  rows) + (
        f"<p>{more} more are in candidates.csv.</p>" if more > 0 else "")


def _definitions(tuning: Tuning) -> str:
    goal = tuning.chooser.goal
    own = (("cost", "", f"{goal.delay:g} (D + 0.10)/(D0 + 0.10) + {goal.noise:g} N/N0 + "
            f"{goal.unrest:g} (U + 1)/(U0 + 1) + {goal.lead:g} W0/W with D the delay at 3 deg/s "
            "in s, N the noise at 1.20 Vs, U the unrest, W the mean warning lead; index 0: as "
            "shipped. The median over the groups of flights counts. The weights are our own"),
           ("unrest", "", "nuisance an hour + changes a minute in gusts + calm changes a "
            "minute + seconds of overstay: a warning for nothing counts as sixty changes"),
           ("rules", "", "no stall missed; 5 kt and 5 % in slow entries (14 CFR 23.207(c), "
            "25.207(c)); no more time in fault than as shipped; and every rule of the settings "
            "table"), (f"besides, for the goal {tuning.goal!r}", "", kept(tuning)),
           ("best line", "", " ".join((THEORY or "").split())))
    return "<dl>" + "".join(
        f"<dt>{escape(word)}{escape(', ' + unit if unit else '')}</dt><dd>{escape(text)}.</dd>"
        for word, unit, text in (*DEFINITIONS, *own)) + "</dl>"
