"""The worked fleet of hardware_notes/tuning.md: twelve flights of the invented type Rill.

    python -m host_sim.tuning.telling.worked    fly them, tune, and write the page's block

Every number in the block is made by the commands that it shows.
"""

import json
import os
import sys
import tempfile
from collections.abc import Sequence
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from host_sim.cli import main as alula
from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import ROOT
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.telling.table import ROWS

PAGE = ROOT / "hardware_notes" / "tuning.md"
BEGIN, END = "<!-- worked: rill -->", "<!-- worked to here -->"
# scenario and seed, in the order in which the one unit flew them: it learns in the first two
FLIGHTS = (("first-flight", 1), ("capture-flap20", 2), ("ordinary", 3), ("stall-straight", 4),
           ("slow-flight-gusts", 5), ("slow-flight-gusts", 6), ("bumpy-cruise", 7),
           ("steep-turns", 8), ("tightened-turn", 9), ("touch-and-go", 10),
           ("first-flight", 11), ("engine-failure", 12))
TUNE = ("--name", "Rill", "--out", "rill-tuned")


def main() -> int:
    """Fly, tune, write."""
    with tempfile.TemporaryDirectory() as folder:
        lines = block(Path(folder), FLIGHTS, TUNE)
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    with whole_file(PAGE) as temporary:
        temporary.write_text("\n".join([before + BEGIN, *lines, END + after]), encoding="utf-8")
    return 0


def block(folder: Path, flights: Sequence[tuple[str, int]], options: Sequence[str]) -> list[str]:
    """The block's lines, from flights that are flown in a folder."""
    here = Path.cwd()
    os.chdir(folder)
    try:
        told = [_fly(scenario, seed) for scenario, seed in flights]
        logs = sorted(str(path) for path in Path("rill").glob("*.log"))
        tuned = json.loads(_run("tune", *logs, *options, "--json"))
        out = options[options.index("--out") + 1]
        profile = json.loads(Path(out, "settings.json").read_text())["profile"]
    finally:
        os.chdir(here)
    return [*_commands(flights, options), "", *_flights(flights, told, tuned), "",
            *_measures(tuned), "", *_settings(tuned), "", _quoted(f"**{tuned['verdict']}**"), ">",
            _quoted(tuned["gained"]), "",
            *(f"- {note}" for note in [_judged(tuned), *tuned["notes"]]), "",
            f"The profile: version {profile['version']} of {profile['name']}, sensors "
            f"`{profile['sensors']}`, content `{profile['content'][:16]}...`."]


def _run(*words: str) -> str:
    """A command's output. RuntimeError where it fails: its line stands on standard error."""
    said = StringIO()
    with redirect_stdout(said):
        code = alula(list(words))
    if code:
        raise RuntimeError(f"alula {' '.join(words)}: exit code {code}")
    return said.getvalue()


def _fly(scenario: str, seed: int) -> dict:
    print(f"{scenario}, seed {seed}", file=sys.stderr)
    return json.loads(_run(*fly_words(scenario, seed), "--json"))


def fly_words(scenario: str, seed: int) -> list[str]:
    """The words of one flight's command."""
    return ["fly", scenario, "--seed", str(seed), "--flash", "rill", "--out", f"out/{seed}"]


def _commands(flights: Sequence[tuple[str, int]], options: Sequence[str]) -> list[str]:
    return ["```", *("alula " + " ".join(fly_words(*flight)) for flight in flights),
            "alula tune rill/*.log " + " ".join(options), "```"]


def _flights(flights: Sequence[tuple[str, int]], told: list[dict], tuned: dict) -> list[str]:
    lines = ["| log | scenario | seed | s | stalls of the wing | stalls a capture took |",
             "|---|---|---|---|---|---|"]
    for flight, flown, (scenario, seed) in zip(tuned["flights"], told, flights, strict=True):
        lines.append(f"| {flight['name']} | {scenario} | {seed} | {flown['duration_s']:.0f} | "
                     f"{len(flown['stalls_s'])} | {len(flight['stalls_s'])} |")
    return lines


def _measures(tuned: dict) -> list[str]:
    lines = ["| measured | unit | shipped | proposed |", "|---|---|---|---|"]
    for name, unit, column, digits in ROWS:
        shipped, proposal = (tuned[who][column] for who in ("shipped", "proposal"))
        if shipped is not None and proposal is not None:
            lines.append(f"| {name} | {unit} | {shipped:.{digits}f} | "
                         f"{proposal:.{digits}f} |")
    return lines


def _settings(tuned: dict) -> list[str]:
    return ["| setting | shipped | proposed |", "|---|---|---|", *(
        f"| {name} | {SHIPPED[name]} | {value} |" for name, value in tuned["settings"].items())]


def _judged(tuned: dict) -> str:
    return (f"{tuned['candidates']} candidates were judged, {tuned['searched']} of them beside "
            f"the grid's values; {tuned['front']} are on the front")


def _quoted(text: str) -> str:
    return "> " + text


if __name__ == "__main__":
    sys.exit(main())
