"""What a first reading learns about a flight: sessions, spacing, and whether its units can be."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from host_sim.reading.csv_rows import (
    ANGLED,
    ANGLED_STATUS,
    FLAP,
    LINE,
    PITOT,
    PITOT_STATUS,
    SPEED,
    T_MS,
    Row,
)
from host_sim.runtimes.paths import use_firmware
from host_sim.world.atmosphere import (
    SOUND_SEA_MS,
    cas_from_impact_ms,
    impact_from_cas_pa,
)

use_firmware()

from alula.sample import FRESH  # noqa: E402
from alula.transfer import LIMIT_DPA  # noqa: E402

FELT_DPA = 500  # 50 Pa, about 17 kt: below it zero errors speak louder than units
FELT_MMS = 10_000  # a stated speed of 10 m/s, for the same reason
BINS_PER_E = 200  # of the logarithm of a quotient: half a percent
FINE_MS = 1000  # spacings up to here are counted one by one, longer ones by their second


@dataclass
class Session:
    """One start of the recorder. first_ms, last_ms: times as in the file."""

    number: int
    first_line: int
    first_ms: int
    last_ms: int
    rows: int

    def seconds(self) -> float:
        """From its first row to its last."""
        return (self.last_ms - self.first_ms) / 1000


class Quotients:
    """Quotients of two columns, counted in flat memory."""

    def __init__(self) -> None:
        self._bins: Counter[int] = Counter()
        self.count = 0

    def add(self, above: np.ndarray, below: np.ndarray) -> None:
        """Count above/below where both are larger than 0; the others count as 0."""
        usable = (above > 0) & (below > 0)
        logs = np.log(above[usable] / below[usable])
        values, counts = np.unique(np.rint(logs * BINS_PER_E).astype(int), return_counts=True)
        self._bins.update(dict(zip(values.tolist(), counts.tolist(), strict=True)))
        self.count += len(above)

    def quantile(self, share: float) -> float:
        """The quotient below which this share of all lies, to half a percent; 0: too small."""
        left = share * self.count - (self.count - sum(self._bins.values()))
        if left <= 0:
            return 0.0
        for log in sorted(self._bins):
            left -= self._bins[log]
            if left <= 0:
                return float(np.exp(log / BINS_PER_E))
        return 0.0


class Survey:
    """Adds up pieces of rows, as `csv_times.in_order` gives them."""

    def __init__(self) -> None:
        self.sessions: list[Session] = []
        self.flaps: set[int] = set()
        self.spacings: Counter[int] = Counter()
        self.longest_ms = 0
        self.rows = 0
        self.usable = {"pitot": 0, "angled": 0}
        self.over_limit = 0  # rows whose pitot is past what the unit measures
        self.ends_dpa: dict[str, tuple[int, int]] = {}  # least and most of each pressure
        self.angled_by_pitot = Quotients()
        self.speed_by_pitot = Quotients()
        self.impact_by_pitot = Quotients()  # the pressure that the speed means, by the pitot's

    def add(self, session: int, rows: list[Row]) -> None:
        """Take one piece in."""
        table = np.array(rows, dtype=np.int64)
        self.rows += len(table)
        times = table[:, T_MS]
        if session > len(self.sessions):
            first_ms = rows[0][T_MS]
            self.sessions.append(Session(session, abs(rows[0][LINE]), first_ms, first_ms, 0))
            steps = np.diff(times)
        else:
            steps = np.diff(times, prepend=self.sessions[-1].last_ms)
        self.sessions[-1].last_ms = int(times[-1])
        self.sessions[-1].rows += len(table)
        self._add_steps(steps)
        self.flaps.update(np.unique(table[:, FLAP]).tolist())
        self._add_pressures(table)

    def _add_steps(self, steps: np.ndarray) -> None:
        if not len(steps):
            return
        coarse = np.where(steps <= FINE_MS, steps, steps // FINE_MS * FINE_MS)
        values, counts = np.unique(coarse, return_counts=True)
        self.spacings.update(dict(zip(values.tolist(), counts.tolist(), strict=True)))
        self.longest_ms = max(self.longest_ms, int(steps.max()))

    def _add_pressures(self, table: np.ndarray) -> None:
        fresh = {"pitot": table[:, PITOT_STATUS] == FRESH,
                 "angled": table[:, ANGLED_STATUS] == FRESH}
        for role, at in (("pitot", PITOT), ("angled", ANGLED)):
            values = table[fresh[role], at]
            if len(values):
                least, most = self.ends_dpa.get(role, (int(values[0]), int(values[0])))
                self.ends_dpa[role] = min(least, int(values.min())), max(most, int(values.max()))
            self.usable[role] += len(values)
        self.over_limit += int((np.abs(table[fresh["pitot"], PITOT]) > LIMIT_DPA).sum())
        pitot, angled = np.abs(table[:, PITOT]), np.abs(table[:, ANGLED])
        felt = fresh["pitot"] & fresh["angled"] & (np.maximum(pitot, angled) >= FELT_DPA)
        self.angled_by_pitot.add(angled[felt].astype(float), np.maximum(pitot[felt], 1.0))
        flown = (fresh["pitot"] & (table[:, PITOT] > 0) & (table[:, SPEED] > 0)
                 & ((table[:, PITOT] >= FELT_DPA) | (table[:, SPEED] >= FELT_MMS)))
        pitot_pa, speed_ms = table[flown, PITOT] / 10.0, table[flown, SPEED] / 1000.0
        self.speed_by_pitot.add(speed_ms, cas_from_impact_ms(pitot_pa))
        self.impact_by_pitot.add(impact_from_cas_pa(np.minimum(speed_ms, SOUND_SEA_MS)), pitot_pa)

    def usual_ms(self) -> int:
        """The median time between rows; 0 for one row."""
        left = sum(self.spacings.values()) / 2
        for step in sorted(self.spacings):
            left -= self.spacings[step]
            if left <= 0:
                return step
        return 0
