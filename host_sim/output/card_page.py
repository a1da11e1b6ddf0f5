"""A flight card as one HTML page for the printer, and as plain text."""

from dataclasses import dataclass, field
from html import escape

WIDTH = 78  # of the plain text
_STYLE = """
@page { size: %(paper)s; margin: 8mm; }
* { box-sizing: border-box; }
body { font: %(size)s/1.3 system-ui, sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 200mm; padding: 4mm; }
h1 { font-size: 1.5em; margin: 0 0 .3em; }
h2 { font-size: 1.15em; margin: .9em 0 .25em; break-after: avoid; }
p, ul, ol { margin: .25em 0; }
.caution { border: 3px solid #000; border-left-width: 4mm; padding: 1mm 2mm; break-inside: avoid; }
.caution ul { padding-left: 1.2em; }
.caution li { margin: .1em 0; }
section { break-inside: avoid; }
table { border-collapse: collapse; width: 100%%; }
th, td { border: 1px solid #000; padding: .8mm 1.2mm; text-align: left; vertical-align: top; }
th { background: #e6e6e6; }
tr { break-inside: avoid; }
td.fill { min-width: 9mm; height: 7mm; }
.tick { list-style: none; padding-left: 0; }
.tick li { padding-left: 1.7em; text-indent: -1.7em; break-inside: avoid; margin: .15em 0; }
.tick li::before { content: ""; display: inline-block; width: .95em; height: .95em;
  border: 1.5px solid #000; margin-right: .6em; vertical-align: -.12em; }
footer { margin-top: .8em; font-size: .85em; border-top: 1px solid #000; }
@media print { body { padding: 0; max-width: none; } }
"""
_SIZES = {"A5": "8.6pt", "A4": "11pt"}
PAPERS = tuple(_SIZES)


@dataclass(frozen=True)
class Section:
    """A part of a card. ticks: lines with a box to tick. head and rows: a table, "" = a field to
    be filled by hand. to_do: whether a row is something to do. text: a paragraph before them."""

    title: str
    text: str = ""
    ticks: list[str] = field(default_factory=list)
    head: tuple[str, ...] = ()
    rows: list[list[str]] = field(default_factory=list)
    to_do: bool = True


@dataclass(frozen=True)
class Card:
    """cautions come first, wherever the card is shown. footer: where the numbers are from."""

    title: str
    cautions: list[str]
    sections: list[Section]
    footer: str


def as_html(card: Card, paper: str) -> str:
    """One page that needs nothing else. paper: one of PAPERS."""
    style = _STYLE % {"paper": paper, "size": _SIZES[paper]}
    parts = ['<!doctype html><html lang="en"><head><meta charset="utf-8">'
             '<meta name="viewport" content="width=device-width, initial-scale=1">'
             f"<title>{escape(card.title)}</title><style>{style}</style></head><body>",
             f"<h1>{escape(card.title)}</h1>", '<div class="caution"><strong>Cautions</strong>',
             _list("ul", card.cautions), "</div>"]
    for section in card.sections:
        parts.append(f"<section><h2>{escape(section.title)}</h2>")
        if section.text:
            parts.append(f"<p>{escape(section.text)}</p>")
        if section.ticks:
            parts.append(_list('ul class="tick"', section.ticks))
        if section.rows:
            parts.append(_table(section))
        parts.append("</section>")
    return "\n".join([*parts, f"<footer>{escape(card.footer)}</footer></body></html>"]) + "\n"


def _list(tag: str, lines: list[str]) -> str:
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<{tag}>{items}</{tag.split()[0]}>"


def _table(section: Section) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in section.head)
    rows = "".join("<tr>" + "".join(
        f"<td>{escape(cell)}</td>" if cell else '<td class="fill"></td>' for cell in row) + "</tr>"
        for row in section.rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def as_text(card: Card) -> str:
    """The same for a terminal or a note on the phone; at most WIDTH characters a line."""
    lines = [card.title, "=" * len(card.title), "", "CAUTIONS"]
    for caution in card.cautions:
        lines += _wrapped("! ", caution)
    for section in card.sections:
        lines += ["", section.title, "-" * len(section.title)]
        if section.text:
            lines += _wrapped("", section.text)
        for tick in section.ticks:
            lines += _wrapped("[ ] ", tick)
        for row in section.rows:
            named = [f"{name}: {cell or '______'}" if i or not cell else cell
                     for i, (name, cell) in enumerate(zip(section.head, row, strict=True))]
            lines += _wrapped("[ ] " if section.to_do else "- ", "; ".join(named))
    return "\n".join([*lines, "", *_wrapped("", card.footer)]) + "\n"


def _wrapped(mark: str, text: str) -> list[str]:
    lines, room = [""], WIDTH - len(mark)
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > room:
            lines.append("")
        lines[-1] += (" " if lines[-1] else "") + word
    return [(mark if not i else " " * len(mark)) + line for i, line in enumerate(lines)]
