"""Writes the reference pages that are made from the firmware's own tables.

    python -m host_sim.reference           write them
    python -m host_sim.reference --check   exit 1 if one is out of date
"""

import sys
from pathlib import Path

from host_sim.output.whole_file import whole_file
from host_sim.reference_health import health_page
from host_sim.runtimes.paths import ROOT, use_firmware

use_firmware()

from alula import figures  # noqa: E402
from alula.settings import FORMAT, TABLE  # noqa: E402
from alula.stall_capture import refusals  # noqa: E402
from console.commands import COMMANDS, IN_AIR  # noqa: E402

NOTES = ROOT / "hardware_notes"
MADE = "<!-- made by `python -m host_sim.reference`; do not edit -->\n"


def settings_page() -> str:
    """The settings reference."""
    lines = [
        MADE, "# Settings", "",
        "The unit reads `settings.json` from its own flash; the desk tools take the same file by "
        "`--settings`. It is one JSON object, name to value:", "",
        "```json", f'{{"format": {FORMAT}, "plumbing": "port-static", "window_ms": 200}}', "```",
        "",
        "A name that is not in this table, or a value outside its range, is refused aloud. "
        "Where the default is *not set*, only the builder can know: until it is set the unit "
        "gives the fault sound and nothing else.", "",
        "| name | default | least | most | unit | what it is |", "|---|---|---|---|---|---|"]
    for name, default, least, most, unit, text in TABLE:
        shown = "*not set*" if default is None else f"{default}"
        if isinstance(unit, tuple):
            lines.append(f"| `{name}` | {shown} | | | one of: {', '.join(unit)} | {text} |")
        else:
            lines.append(f"| `{name}` | {shown} | {least} | {most} | {unit} | {text} |")
    return "\n".join(lines) + "\n"


def refusals_page() -> str:
    """Why a stall run is refused."""
    lines = [MADE, "# Refusals of a stall capture", "",
             "A refused run is not stored; the calibration in use stays in use.", "",
             "| word | the number beside it | what to do |", "|---|---|---|"]
    for word, number, remedy in zip(refusals.WORDS[1:], refusals.NUMBERS[1:],
                                    refusals.REMEDIES[1:], strict=True):
        lines.append(f"| `{word}` | {number} | {remedy} |")
    return "\n".join(lines) + "\n"


def sounds_page() -> str:
    """The figures of notes."""
    lines = [MADE, "# Figures of notes", "",
             "Short remarks and guidance, played only when no warning sounds. Pitch in Hz, length "
             "in ms; a dash is a rest.", "", "| figure | notes |", "|---|---|"]
    names = {value: name for name, value in vars(figures).items()
             if name.isupper() and isinstance(value, int) and value >= 0}
    for number, notes in enumerate(figures.FIGURES):
        shown = ", ".join(f"{notes[i] or '-'} {notes[i + 1]}" for i in range(0, len(notes), 2))
        lines.append(f"| {names[number].lower().replace('_', ' ')} | {shown} |")
    return "\n".join(lines) + "\n"


def commands_page() -> str:
    """The commands of the console."""
    lines = [MADE, "# Commands of the console", "",
             "One line in, one line of JSON back: [console.md](console.md). *In the air* is yes "
             "where the command is answered in flight, and then only while all is quiet.", "",
             "| command | in the air | what it does |", "|---|---|---|"]
    for name, arguments, text in COMMANDS:
        shown = f"{name} {arguments}".strip().replace("|", "\\|")
        lines.append(f"| `{shown}` | {'yes' if name in IN_AIR else 'refused'} | {text} |")
    return "\n".join(lines) + "\n"


PAGES = {"console_commands.md": commands_page,
         "settings.md": settings_page, "health_words.md": lambda: health_page(MADE),
         "refusals.md": refusals_page, "figures.md": sounds_page}


def out_of_date() -> list[Path]:
    """Pages that differ from what the tables would make."""
    return [NOTES / name for name, page in PAGES.items()
            if not (NOTES / name).exists() or (NOTES / name).read_text() != page()]


def main(words: list[str]) -> int:
    """Write or check the pages."""
    if words == ["--check"]:
        for path in out_of_date():
            print(f"{path.relative_to(ROOT)} is out of date; run: python -m host_sim.reference")
        return 1 if out_of_date() else 0
    for name, page in PAGES.items():
        with whole_file(NOTES / name) as temporary:
            temporary.write_text(page())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
