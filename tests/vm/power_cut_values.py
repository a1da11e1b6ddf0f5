"""One value after another for every kind of record. Runs in both interpreters."""

from alula.vault import KINDS  # noqa: F401  (the scripts take both from here)
from tests.both import frozen_records as frozen
from tests.both.core_rig import record

_FIRST = frozen.CALIBRATION_1_VALUE["curves"][0]


def settings(n: int) -> dict:
    """Long enough to have a block of its own: littlefs keeps small files in their directory."""
    return record(window_ms=100 + n % 200, hold_ms=10000, fault_reminder_ms=20000, edge_ms=20,
                  pulse_high_millihz=8000, pulse_low_millihz=1500, warble_high_hz=1400,
                  warble_low_hz=1000, calm_release_ms=2000, zero_change_dpa=200, pitch_low_hz=600,
                  pitch_high_hz=1100, flap_settle_ms=1000, zero_first_dpa=1500, min_q_dpa=650,
                  flying_q_dpa=1300, flying_ms=500, ground_ms=3000, hysteresis_pm=20)


def zero(n: int) -> dict:
    return {"pitot_dpa": n - 5, "angled_dpa": -n, "spread_pitot_dpa": n % 60,
            "spread_angled_dpa": None, "temperature_dc": 150 - n, "count": 400}


def calibration(n: int) -> dict:
    points = [[n - 300 + 800 * i, 125 * (i + 1)] for i in range(8)]
    curves = [dict(_FIRST, flap=flap, points=points, entry_rate_ckt_s=n) for flap in range(4)]
    return dict(frozen.CALIBRATION_1_VALUE, curves=curves)


def reference(n: int) -> int:
    return 500 + n


def stop(n: int) -> str:
    return "Traceback, number %d\n" % n * 20


def starts(n: int) -> dict:
    return {"power": n, "watchdog": n // 2, "restart": 3, "in_air": 65535 - n, "last": "restart"}


def checks(n: int) -> list:
    return [{"row": i, "verdict": 1 + (n + i) % 3, "number": n * i - 5, "limit": n,
             "date": None if i % 2 else "2026-11-%02d" % (1 + n % 28)} for i in range(15)]


VALUES = {frozen.SETTINGS: settings, frozen.ZERO: zero, frozen.CALIBRATION: calibration,
          frozen.REFERENCE: reference, frozen.STOP: stop, frozen.STARTS: starts,
          frozen.ANCHOR: zero, frozen.CHECKS: checks}
