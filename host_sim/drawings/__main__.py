"""Writes the drawings: `python -m host_sim.drawings`."""

import sys

from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import ROOT

FOLDER = ROOT / "hardware_notes" / "drawings"


def drawings() -> dict[str, str]:
    """File name to content. ImportError without schemdraw."""
    from host_sim.drawings import audio, block, plumbings, power, probe, wiring
    rooms = (audio, block, plumbings, power, probe, wiring)
    made = {room.__name__.rsplit(".", 1)[-1] + ".svg": room.draw() for room in rooms}
    return {**made, "wiring_esp32.svg": wiring.draw_esp32()}


def main() -> int:
    """Write them all."""
    try:
        made = drawings()
    except ImportError:
        print("the drawings need schemdraw: pip install -e '.[drawings]'", file=sys.stderr)
        return 2
    for name, text in made.items():
        with whole_file(FOLDER / name) as temporary:
            temporary.write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
