"""`alula board maintain` and `restart`: into maintenance, and out of it."""

import argparse

from host_sim.board.ports import choose_port
from host_sim.board.session import enter, restart
from host_sim.board.show import show, unit_line

LEFT = "in maintenance: the unit is NOT started and warns of nothing; `alula board restart` " \
    "starts it, or power off and on"


def run(arguments: argparse.Namespace) -> None:
    """Leave the board at its prompt."""
    link = enter(choose_port(arguments.port), arguments.interrupt)
    name = link.port.name
    link.close()
    show(arguments, {"port": name, "kind": "repl"}, [f"{name}: {LEFT}"])


def restart_unit(arguments: argparse.Namespace) -> None:
    """Start the unit, and see that it answers."""
    status = restart(choose_port(arguments.port))
    show(arguments, {"status": status}, [unit_line(status)])
