"""The simulated sensors against data-sheet transfer functions."""

import numpy as np
import pytest

from host_sim.world.sensors import SensorModel, accelerometer_words, to_words

PSI = 6894.757


def one_word(pressure_pa: float, **model: object) -> int:
    sensor = SensorModel(noise_pa=0.0, **model)
    return int(to_words(np.array([pressure_pa]), sensor, 0)[0][0])


# MS4525DO, +-1 psi, type A: counts = .8*16383/(Pmax-Pmin)*(P-Pmin) + .1*16383
# (data sheet as cited by two open autopilot drivers); values computed
WORKED = [(-PSI, 1638.3), (0.0, 8191.5), (850.64, 9000.0), (PSI, 14744.7)]


@pytest.mark.parametrize(("pressure_pa", "counts"), WORKED)
def test_ms4525_type_a(pressure_pa: float, counts: float) -> None:
    # one count, and 0.3 because ours takes 10 to 90 % of 2^14 where the formula has 2^14 - 1
    assert one_word(pressure_pa, output="A", range_pa=PSI) == pytest.approx(counts, abs=1.3)


# output types by share of 2^14 counts: A 10-90, B 5-95, C 5-85, F 4-94 % (Honeywell data sheet
# as cited by the Linux driver hsc030pa.c)
SHARES = {"A": (0.10, 0.90), "B": (0.05, 0.95), "C": (0.05, 0.85), "F": (0.04, 0.94)}


@pytest.mark.parametrize("output", SHARES)
def test_ends_of_the_output_types(output: str) -> None:
    low, high = SHARES[output]
    bottom = one_word(-2491.0, output=output, range_pa=2491.0)
    top = one_word(2491.0, output=output, range_pa=2491.0)
    assert bottom == pytest.approx(low * 16384, abs=1.0)
    assert top == pytest.approx(high * 16384, abs=1.0)


@pytest.mark.parametrize("output", SHARES)
def test_words_stick_at_the_ends_of_14_bits(output: str) -> None:
    assert one_word(1e6, output=output) == 16383
    assert one_word(-1e6, output=output) == 0


def test_24_bit_output_is_tenths_of_a_pascal_and_sticks_at_the_range() -> None:
    assert one_word(-12.34, output="24-bit", range_pa=500.0) == -123
    assert one_word(900.0, output="24-bit", range_pa=500.0) == 5000


def test_noise_and_zero_error() -> None:
    sensor = SensorModel(output="24-bit", noise_pa=2.0, zero_error_pa=15.0)
    words, statuses = to_words(np.full(20_000, 100.0), sensor, 3)
    assert np.mean(words) == pytest.approx(1150.0, abs=0.6)  # 4 sigma of the mean
    assert np.std(words) == pytest.approx(20.0, rel=0.03)
    assert words.dtype == np.int64
    assert not statuses.any()


def test_same_seed_same_words_but_two_sensors_differ() -> None:
    flat = np.zeros(500)
    first, _ = to_words(flat, SensorModel(name="pitot"), 5)
    again, _ = to_words(flat, SensorModel(name="pitot"), 5)
    other, _ = to_words(flat, SensorModel(name="angled"), 5)
    later, _ = to_words(flat, SensorModel(name="pitot"), 6)
    assert first.tobytes() == again.tobytes()
    assert abs(np.corrcoef(first, other)[0, 1]) < 0.2
    assert first.tobytes() != later.tobytes()


def test_accelerometer() -> None:
    words = accelerometer_words(np.full(20_000, 1.0), 1)
    assert np.mean(words) == pytest.approx(1000.0, abs=1.0)
    assert np.std(words) == pytest.approx(30.0, rel=0.03)
    assert accelerometer_words(np.array([50.0, -50.0]), 1, 0.0).tolist() == [8000, -8000]
