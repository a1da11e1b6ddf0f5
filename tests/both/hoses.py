"""Hoses that can be wrong. Both interpreters; imports nothing."""


class Hoses:
    """Which port's pressure reaches each of the four connectors: high and low side of each sensor.

    Written out from the wiring, not from the firmware's table: the pitot sensor takes pitot minus
    static; the angled one what the plumbing says (README, design of the three plumbings).
    ports: names in the order in which they are asked for. at: connector -> port, or None: open.
    blocked: ports that let nothing in.
    """

    def __init__(self, plumbing: str) -> None:
        self.ports = ("pitot", "static", "angled") + (("upper",) if plumbing == "opposed" else ())
        sides = {"port-static": ("angled", "static"), "pitot-port": ("pitot", "angled"),
                 "opposed": ("angled", "upper")}[plumbing]
        self.at = {"pitot-high": "pitot", "pitot-low": "static", "angled-high": sides[0],
                   "angled-low": sides[1]}
        self.blocked = []

    def swap_ports(self, one: str, other: str) -> None:
        """The hoses of two ports sit on each other's ports."""
        for connector, port in self.at.items():
            if port in (one, other):
                self.at[connector] = other if port == one else one

    def swap_connectors(self, one: str, other: str) -> None:
        """Two hoses sit on each other's connectors at the sensors."""
        self.at[one], self.at[other] = self.at[other], self.at[one]

    def feel(self, pressures: dict) -> tuple:
        """(pitot, angled) sensor in 0.1 Pa for the pressure at each port."""
        felt = {}
        for connector, port in self.at.items():
            felt[connector] = 0 if port is None or port in self.blocked else pressures[port]
        return (felt["pitot-high"] - felt["pitot-low"],
                felt["angled-high"] - felt["angled-low"])
