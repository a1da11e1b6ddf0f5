"""The pages that this room checks, and their links."""

import re

from host_sim.runtimes.paths import ROOT

NOTES = ROOT / "hardware_notes"
# written by hand for the builder; the others are references made from tables, or specifications
FOR_BUILDERS = (
    "README", "add_a_board", "add_a_sensor", "audio", "build", "calibration_flight", "cautions",
    "change_a_sound", "daily_check", "emc", "enclosure", "first_hour", "limits", "maintenance",
    "parts", "plumbings", "power", "probe", "proof_flight", "tubing", "tuning", "why", "wiring")
_LINK = re.compile(r"(?P<image>!?)\[(?P<text>[^\]]*)\]\((?P<to>[^)\s]+)\)")
_CODE = re.compile(r"```.*?```", re.DOTALL)


def text_of(name: str) -> str:
    """A page, by its name without suffix."""
    return (NOTES / f"{name}.md").read_text(encoding="utf-8")


def links(text: str) -> list[tuple[bool, str, str]]:
    """(image, text, target) of each link outside code blocks."""
    return [(bool(found["image"]), found["text"], found["to"])
            for found in _LINK.finditer(_CODE.sub("", text))]


def headings(text: str) -> set[str]:
    """Anchors of a page's headings, as the usual Markdown hosts form them."""
    lines = [line.lstrip("#").strip().lower() for line in _CODE.sub("", text).splitlines()
             if line.startswith("#")]
    return {re.sub(r"[^\w\- ]", "", line).replace(" ", "-") for line in lines}
