"""What was repaired while a flight was read: a count and the first place of each kind."""

from dataclasses import dataclass

# kind: (what is said of one, of several); {n} is the count
_TEXTS = {
    "no-line-end": ("the last line has no line end, so its last number may be cut short: left out",
                    ""),
    "torn-end": ("the last line cannot be read: left out, the file is torn there",
                 "the last {n} lines cannot be read: left out, the file is torn there"),
    "damaged": ("a line with bytes that no text has (padding, or a hole in the file): left out",
                "{n} lines with bytes that no text has (padding, or holes in the file): left out"),
    "short": ("a torn row (too few values): left out",
              "{n} torn rows (too few values): left out"),
    "header-again": ("the header stands once more in the middle: passed over",
                     "the header stands {n} times more in the middle: passed over"),
    "no-time": ("a row without a usable time: left out",
                "{n} rows without a usable time: left out"),
    "wild-time": ("a row whose time fits neither the row before nor the one after: left out",
                  "{n} rows whose time fits neither the row before nor the one after: left out"),
    "sorted": ("a row that came late, by 1 s at most: put in its place",
               "{n} rows that came late, by 1 s at most: put in their places"),
    "same-time": ("a row with the same millisecond as another: left out",
                  "{n} rows with the same millisecond as another: left out"),
    "pitot-missing": ("pitot: a missing sample (the unit is told that nothing came)",
                      "pitot: {n} missing samples (the unit is told that nothing came)"),
    "angled-missing": ("angled: a missing sample (the unit is told that nothing came)",
                       "angled: {n} missing samples (the unit is told that nothing came)"),
    "nz-missing": ("nz: a missing sample", "nz: {n} missing samples"),
    "flap-missing": ("flap: a missing setting (read as unclear)",
                     "flap: {n} missing settings (read as unclear)"),
}


@dataclass
class Repair:
    """One kind of repair. byte: where in the file, for a tear."""

    kind: str
    count: int
    first_line: int
    byte: int | None = None

    def text(self) -> str:
        """One line for people."""
        one, many = _TEXTS[self.kind]
        place = f"line {self.first_line}" + ("" if self.byte is None else f", byte {self.byte}")
        said = one if self.count == 1 else many.format(n=self.count)
        return f"{said} ({'' if self.count == 1 else 'first: '}{place})"


class Report:
    """Every repair of one pass over a file, in the order in which the kinds first came up."""

    def __init__(self) -> None:
        self._found: dict[str, Repair] = {}

    def add(self, kind: str, line: int, byte: int | None = None, count: int = 1) -> None:
        """Count a repair; kind: a key of the table above."""
        found = self._found.get(kind)
        if found is None:
            self._found[kind] = Repair(kind, count, line, byte)
        else:
            found.count += count

    def count(self, kind: str) -> int:
        """How many of a kind."""
        return self._found[kind].count if kind in self._found else 0

    def first_line(self, kind: str) -> int:
        """Where the first of a kind was."""
        return self._found[kind].first_line

    def repairs(self) -> list[Repair]:
        """All of them."""
        return list(self._found.values())
