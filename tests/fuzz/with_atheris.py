"""Coverage-guided fuzzing by hand, with PyPI `atheris`; no part of `make test`.

    python -m tests.fuzz.atheris_records -max_total_time=60

Whatever breaks a promise belongs, as bytes, into tests/fuzz/found.py.
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["alula", "host_sim.reading", "drivers", "stored",
                                         "assembly", "csv", "json"]):
    from tests.fuzz.targets import TARGETS

from tests.fuzz.seeds import SEEDS


def main(name: str) -> None:
    """Fuzz one target from its seeds; options as for libFuzzer."""
    with tempfile.TemporaryDirectory() as folder:
        for i, seed in enumerate(SEEDS[name]):
            (Path(folder) / f"seed{i}").write_bytes(seed)
        atheris.Setup([*sys.argv, folder], TARGETS[name])
        atheris.Fuzz()
