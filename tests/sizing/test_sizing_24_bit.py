"""The 24-bit family in `alula size`: named by its output type, it is one whose driver gives
pascals."""

import pytest

from host_sim.sizing.read_sensor import read_sensor

TABLE = {"name": "x", "range": "1 psi", "bits": 24, "band_pc": 1, "noise": "0.2 Pa",
         "drift": "0.3 Pa/K"}


@pytest.mark.parametrize("output", ["ms5525-001ds", "ms5525-002ds"])
def test_it_is_read_as_a_sensor_that_gives_pascals(output: str) -> None:
    wide = {**TABLE, "range": "2 psi"}  # past what a 14-bit sensor may have in this unit
    for table in (TABLE, wide):
        assert read_sensor({**table, "output": output}, "x.toml") == read_sensor(
            {**table, "output": "direct"}, "x.toml")
