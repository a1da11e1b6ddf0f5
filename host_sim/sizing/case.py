"""What is to be judged: an aeroplane, its probe and tubes, the unit's settings, and sensors."""

from dataclasses import dataclass, field

from host_sim.world.plumbing import Line

# The wing of an aeroplane whose lift curve nobody has given: body angles of attack. Round numbers
# of a light aeroplane with flaps up (common practice, no source).
STALL_DEG, ZERO_LIFT_DEG = 15.5, -3.5
OVERSPEED_PC = 10.0  # speed above the top speed that the sensors must still read (our choice)
SIDESLIP_DEG = 10.0  # and this much sideslip (our choice)
LIMIT_LOAD_G = 3.8  # 14 CFR 23.337, normal category (from memory)


@dataclass(frozen=True)
class Sensor:
    """A differential-pressure sensor as its data sheet describes it.

    low_pa, high_pa: ends of the range; span_pa: their difference, of which data sheets count
    percentages. output: a word of the setting `pitot_output`. resolution_pa: the least step that
    means something, if coarser than a step of the word; 0: the word decides. band_pc: total error
    band, +- percent of span. noise_pa: rms of one reading. drift_pa_per_k: zero drift.
    response_ms: age of a reading when it is fetched.
    """

    name: str
    low_pa: float
    high_pa: float
    output: str
    band_pc: float
    noise_pa: float
    drift_pa_per_k: float
    resolution_pa: float = 0.0
    response_ms: float = 1.0

    @property
    def span_pa(self) -> float:
        """Upper less lower end of the range: what "% FS" or "% FSS" counts."""
        return self.high_pa - self.low_pa

    @property
    def band_pa(self) -> float:
        """Total error band, +- Pa."""
        return self.band_pc / 100.0 * self.span_pa


@dataclass(frozen=True)
class Pair:
    """The sensor of the pitot and the sensor of the angled port; often two of one type."""

    pitot: Sensor
    angled: Sensor

    @property
    def name(self) -> str:
        """How the table calls it."""
        one, other = self.pitot.name, self.angled.name
        return one if one == other else f"{one} + {other}"


@dataclass(frozen=True)
class Case:
    """Everything that the sensors are judged by.

    stall_kt, top_kt: calibrated airspeeds, 1 g stall (slowest that counts) and top speed.
    height_m: where the tubes are slowest. record: settings, name to value, as in a settings file.
    warm_up_k: how much the sensors warm up between the first zero and the second;
    change_k: and how far their temperature may go from there in flight.
    """

    stall_kt: float
    top_kt: float
    height_m: float
    plumbing: str
    probe_deg: float
    pitot_line: Line
    angled_line: Line
    pairs: tuple[Pair, ...]
    record: dict = field(default_factory=dict)
    stall_deg: float = STALL_DEG
    zero_lift_deg: float = ZERO_LIFT_DEG
    limit_load_g: float = LIMIT_LOAD_G
    overspeed_pc: float = OVERSPEED_PC
    sideslip_deg: float = SIDESLIP_DEG
    warm_up_k: float = 10.0
    change_k: float = 15.0
