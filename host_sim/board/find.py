"""`alula board find` and `alula board status`: what is plugged in, and what it says of itself."""

import argparse

from host_sim.board import ports
from host_sim.board.link import Link, Lost
from host_sim.board.ports import Port, choose_port
from host_sim.board.probe import State, probe
from host_sim.board.session import refuse_unfit
from host_sim.board.show import show, unit_line
from host_sim.board.talk import refusal
from host_sim.errors import NoResult, UsageError


def run(arguments: argparse.Namespace) -> None:
    """Every USB port, and what answers there. Exit code 1 where there is none."""
    found_ports = [choose_port(arguments.port)] if arguments.port else ports.usb_ports()
    if not found_ports:
        raise NoResult("no board found on USB; plug it in with a cable that carries data")
    found = [_looked_at(port) for port in found_ports]
    show(arguments, [one for one, _ in found], [line for _, line in found])


def _looked_at(port: Port) -> tuple[dict, str]:
    facts: dict = {"port": port.name, "usb": f"{port.vendor:04x}:{port.product:04x}",
                   "serial": port.serial, "usual": port.usual}
    if port.usual == ports.UNKNOWN:  # it may be anything: nothing is sent to it unasked
        return ({**facts, "kind": "not asked"},
                f"{port.text()}: not asked; if it is your board, use --port {port.name}")
    try:
        link = Link(port)
        try:
            state = probe(link)
        finally:
            link.close()
    except (UsageError, Lost) as error:
        return {**facts, "kind": "no access", "why": str(error)}, str(error)
    facts.update(kind=state.kind, status=state.status, version=state.version,
                 machine=state.machine)
    return facts, f"{port.text()}: {_words(state)}"


def _words(state: State) -> str:
    if state.kind == "unit":
        return unit_line(state.status)
    if state.kind == "refuses":
        return refusal(state.status)
    if state.kind == "repl":
        return (f"{state.version}, {state.machine}: at its prompt, no unit is "
                "started there")
    return "does not answer: no MicroPython, or a program that is stuck"


def status(arguments: argparse.Namespace) -> None:
    """What one unit says of itself."""
    port = choose_port(arguments.port)
    link = Link(port)
    try:
        state = probe(link)
        if state.kind == "repl":
            raise NoResult(f"{port.name}: {_words(state)}; `alula board restart` starts the unit "
                           "if it is flashed, `alula board flash` flashes it")
        if state.kind == "unit":
            show(arguments, state.status, [unit_line(state.status), *_table(state.status)])
            return
        refuse_unfit(port, state)
    finally:
        link.close()


def _table(answer: dict, indent: str = "  ") -> list[str]:
    """An answer, a line a field; the key says its unit."""
    lines = []
    for name, value in answer.items():
        if isinstance(value, dict):
            lines += [f"{indent}{name}:", *_table(value, indent + "  ")]
        elif name != "ok":
            lines.append(f"{indent}{name:<22} {_plain(value)}")
    return lines


def _plain(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(_plain, value)) or "none"
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)

