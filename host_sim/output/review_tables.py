"""Tables of a review as HTML, and the table of differences of two logs."""

from html import escape

import numpy as np

from host_sim.output.review_compare import SHOWN_S, Comparison
from host_sim.output.review_flight import ReviewFlight
from host_sim.output.review_rows import Table, clock
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import states  # noqa: E402

ROWS_MOST = 200


def as_html(table: Table) -> str:
    """One table with its title; each row has a button that shows it in the charts."""
    parts = [f"<section><h2>{escape(table.title)}</h2>"]
    if not table.rows:
        return parts[0] + f"<p>{escape(table.nothing)}</p></section>"
    head = "".join(f"<th scope=\"col\">{escape(cell)}</th>" for cell in table.head)
    parts.append(f'<div class="table"><table><thead><tr>{head}'
                 '<th class="noprint" scope="col">charts</th></tr></thead><tbody>')
    for number, row in enumerate(table.rows[:ROWS_MOST]):
        cells = "".join(f"<td{_class(table, number, column)}>{escape(cell)}</td>"
                        for column, cell in enumerate(row))
        from_s, to_s = table.spans[number]
        parts.append(f'<tr>{cells}<td class="noprint"><button data-from="{from_s:.2f}" '
                     f'data-to="{to_s:.2f}" aria-label="show {escape(row[0])} at '
                     f'{escape(row[1])}">show</button></td></tr>')
    parts.append("</tbody></table></div>")
    if len(table.rows) > ROWS_MOST:
        parts.append(f"<p>... and {len(table.rows) - ROWS_MOST} more; --json has them all.</p>")
    return "".join(parts) + "</section>"


def _class(table: Table, row: int, column: int) -> str:
    return ' class="bad"' if (row, column) in table.bad else ""


def as_text(table: Table, most: int = 40) -> list[str]:
    """The same as lines, columns side by side."""
    lines = ["", table.title]
    if not table.rows:
        return [*lines, "  " + table.nothing]
    for row in table.rows[:most]:
        lines.append("  " + "; ".join(
            cell if not i else f"{name} {cell}"
            for i, (name, cell) in enumerate(zip(table.head, row, strict=True)) if cell != "–"))
    if len(table.rows) > most:
        lines.append(f"  ... and {len(table.rows) - most} more; --json has them all")
    return lines


def difference_table(one: ReviewFlight, two: ReviewFlight, found: Comparison) -> Table:
    """Where two units said different things."""
    rows, spans = [], []
    for first, after in found.apart:
        long_s = one.seconds((first, after))
        if long_s < SHOWN_S:
            continue
        there = found.lift[first:after]
        lift = f"{there[np.nanargmax(abs(there))]:+.3f}" if np.isfinite(there).any() else "–"
        rows.append([clock(one.page_s(first)), f"{long_s:.1f} s", _said(one, first),
                     _said(two, int(found.partner[first])), lift])
        spans.append((one.page_s(first), one.page_s(after)))
    return Table("Where the two said different things",
                 ("from", "for", one.name, two.name, "largest difference of lift"), rows, spans,
                 frozenset(), f"Nowhere for longer than {SHOWN_S} s.")


def _said(flight: ReviewFlight, tick: int) -> str:
    return states.WORDS[int(flight.state[tick])]


def difference_facts(one: ReviewFlight, two: ReviewFlight, found: Comparison) -> list[str]:
    """What the comparison found, in sentences."""
    lines = [f"{two.name} is laid {found.offset_s:+.2f} s on the time of {one.name} (first row to "
             f"first row): there the dynamic pressures agree best, correlation "
             f"{found.correlation:.4f}. All times on this page are those of {one.name}",
             f"{found.overlap_s:.1f} s in common; in different states for {found.apart_s:.1f} s, "
             f"{100 * found.apart_s / max(found.overlap_s, 1e-9):.1f} % of that"]
    lift = found.lift[np.isfinite(found.lift)]
    if len(lift):
        at = int(np.nanargmax(abs(found.lift)))
        lines.append(f"difference of the lift in use ({two.name} less {one.name}): median "
                     f"{np.median(lift):+.3f}, 95 % within {np.percentile(abs(lift), 95):.3f}, "
                     f"largest {found.lift[at]:+.3f} at {clock(one.page_s(at))}")
    return lines
