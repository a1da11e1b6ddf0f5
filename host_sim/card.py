"""`alula card`: flight cards to print, filled from settings and calibration."""

import argparse
from pathlib import Path

from host_sim.errors import UsageError
from host_sim.output.card_facts import card_facts
from host_sim.output.card_page import PAPERS, as_html, as_text
from host_sim.output.card_texts import CARDS
from host_sim.output.whole_file import check_targets, whole_file
from host_sim.reading.unit_files import choose_plumbing, read_calibration, read_settings

SUFFIXES = (".html", ".txt")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The verb's arguments."""
    parser.add_argument("card", choices=CARDS, help="capture: how a stall capture is flown; "
                        "proof: the warning, straight, turning and accelerated, with margins to "
                        "tick off; daily: what to check every day")
    parser.add_argument("--settings", type=Path, help="settings, JSON: thresholds, and speeds if "
                        "flying_q_dpa is in it")
    parser.add_argument("--calibration", type=Path, help="calibration, JSON: flap settings")
    parser.add_argument("--plumbing", help="port-static, pitot-port or opposed; only where "
                        "neither file says it")
    parser.add_argument("--paper", choices=PAPERS, default="A5", help="default: %(default)s")
    parser.add_argument("--out", type=Path, help="write to this file: .html to print, .txt plain; "
                        "without it the plain card is shown here")


def run(arguments: argparse.Namespace) -> None:
    """Make one card."""
    record = read_settings(arguments.settings)
    calibration = None
    if arguments.calibration:
        calibration = read_calibration(arguments.calibration, choose_plumbing(
            arguments.plumbing, record, arguments.calibration))
    files = [path for path in (arguments.settings, arguments.calibration) if path]
    card = CARDS[arguments.card](card_facts(record, calibration, [path.name for path in files]))
    if arguments.out is None:
        print(as_text(card), end="")
        return
    if arguments.out.suffix not in SUFFIXES:
        raise UsageError(f"--out {arguments.out}: name a file that ends in .html (to print) or "
                         ".txt (plain)")
    check_targets({"--out": arguments.out}, files)
    text = as_text(card) if arguments.out.suffix == ".txt" else as_html(card, arguments.paper)
    with whole_file(arguments.out) as temporary:
        temporary.write_text(text, encoding="utf-8")
    print(f"{arguments.out}: {card.title}. It supplements, and never replaces, the handbook, the "
          "rules and the primary stall warning.")
