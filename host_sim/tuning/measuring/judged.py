"""A candidate over all flights: every measure, worst and mean, and what the rules say of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from host_sim.tuning.candidates import Candidate
from host_sim.tuning.measuring.bench_signals import RATES_DEG_S, SPEEDS


@dataclass(frozen=True)
class Totals:
    """Sums over some flights. leads and margins: of the stalls that have them."""

    stalls: int
    misses: int
    leads_s: tuple[float, ...]
    leads_kt: tuple[float, ...]
    margins_kt: tuple[float, ...]
    margins_share: tuple[float, ...]
    warbles_s: tuple[float, ...]
    pulses: tuple[float, ...]
    nuisance_h: float
    gust_min: float
    calm_min: float
    overstay_s: float
    fault_s: float

    @property
    def unrest(self) -> float:
        """Nuisance an hour, changes a minute in gusts and of the calm band, and seconds of
        overstay, added."""
        return self.nuisance_h + self.gust_min + self.calm_min + self.overstay_s


def totals(seen: Iterable[dict]) -> Totals:
    """Add flights up. seen: `measures.FlightSeen` as JSON holds it."""
    flights = list(seen)
    stalls = [stall for flight in flights for stall in flight["stalls"]]

    def of(name: str) -> tuple[float, ...]:
        return tuple(stall[name] for stall in stalls if stall[name] is not None)

    return Totals(len(stalls), sum(stall["lead_s"] is None for stall in stalls), of("lead_s"),
                  of("lead_kt"), of("margin_kt"), of("margin_share"), of("warble_s"),
                  of("pulses"), _rate(flights, "nuisance", "hours"),
                  _rate(flights, "gust_changes", "gust_minutes"),
                  _rate(flights, "calm_changes", "calm_minutes"),
                  _rate(flights, "overstay_s", "warnings"),
                  sum(flight["fault_s"] for flight in flights))


def _rate(flights: list[dict], count: str, time: str) -> float:
    """All counts over all time: a short flight does not weigh as much as a long one."""
    spent = sum(flight[time] for flight in flights)
    return sum(flight[count] for flight in flights) / spent if spent else 0.0


@dataclass(frozen=True)
class Judged:
    """values: the candidate. delays_s: at RATES_DEG_S. noises_pm: at SPEEDS. seen: for each
    flight, in the fleet's order."""

    values: Candidate
    delays_s: tuple[float, ...]
    noises_pm: tuple[float, ...]
    seen: tuple[dict, ...]

    @cached_property
    def all(self) -> Totals:
        """Over all flights."""
        return totals(self.seen)

    @property
    def delay_s(self) -> float:
        """At 3 deg/s, the middle one."""
        return self.delays_s[1]

    @property
    def noise_pm(self) -> float:
        """At 1.20 Vs, where pressing begins as shipped."""
        return self.noises_pm[1]

    @property
    def axes(self) -> tuple[float, float, float]:
        """What the front is of: delay, noise, unrest; less is better in each."""
        return self.delay_s, self.noise_pm, self.all.unrest

    def columns(self) -> dict[str, float | int | None]:
        """Everything by name, for the CSV."""
        found: dict[str, float | int | None] = dict(self.values)
        for rate, delay in zip(RATES_DEG_S, self.delays_s, strict=True):
            found[f"delay_at_{rate}_s"] = delay
            found[f"delay_at_{rate}_deg"] = delay * rate
        for speed, noise in zip(SPEEDS, self.noises_pm, strict=True):
            found[f"noise_at_{round(100 * speed)}_pm"] = noise
        total = self.all
        found["stalls"], found["misses"] = total.stalls, total.misses
        for name, values in (("lead_s", total.leads_s), ("lead_kt", total.leads_kt),
                             ("margin_kt", total.margins_kt),
                             ("margin_share", total.margins_share),
                             ("warble_s", total.warbles_s), ("pulses", total.pulses)):
            found[f"{name}_worst"] = min(values) if values else None
            found[f"{name}_mean"] = sum(values) / len(values) if values else None
        for name, count, time in (("nuisance_h", "nuisance", "hours"),
                                  ("gust_changes_min", "gust_changes", "gust_minutes"),
                                  ("calm_changes_min", "calm_changes", "calm_minutes"),
                                  ("overstay_s", "overstay_s", "warnings")):
            found[f"{name}_worst"] = max(_rate([one], count, time) for one in self.seen)
            found[f"{name}_mean"] = _rate(list(self.seen), count, time)
        found["fault_s"] = total.fault_s
        return found
