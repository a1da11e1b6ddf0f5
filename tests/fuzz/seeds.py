"""Good inputs to start from: one of every sort, for Hypothesis to spoil and atheris to grow."""

import json

from tests.both.core_rig import record
from tests.both.frozen_records import RECORDS

POINTS = [[-500, 200], [2000, 500], [7000, 1000]]
SETTINGS = [json.dumps(found, indent=indent).encode() for found in (
    {}, {"format": 1, "window_ms": 200}, record(), record(plumbing="opposed", lead_ms=50),
    {"pitot_low_dpa": -25000, "pitot_high_dpa": 25000, "calm_sound": "off"},
    {"sample_rate_hz": 125, "edge_ms": 10}) for indent in (None, 1)]
CALIBRATIONS = [json.dumps(found).encode() for found in (
    {"plumbing": "port-static", "points": POINTS}, {"flap": 20, "points": POINTS},
    {"plumbing": "opposed", "curves": [{"flap": 0, "points": POINTS},
                                       {"flap": 99, "points": [[-30000, 0], [30000, 1500]]}]})]
_ROWS = "".join(f"{i / 50:.2f},{400 + i}.5,-{160 - i}.25\n" for i in range(6))
FLIGHTS = [text.encode() for text in (
    "time_s,pitot_pa,angled_pa\n" + _ROWS,
    "time_s,pitot_pa,angled_pa,nz_g,flap\n-1.5,1e2,+3,1.02,0\n0,.5,-2e-3,-0.5,20\n",
    "\ufefftime_s,pitot_pa,angled_pa\r\n0,1,2\r\n\r\n0.01,3,4\r\n",
    '"time_s","pitot_pa","angled_pa"\n"0"," 1 ","2"\n',
    "time_ms;pitot_hpa;angled_kpa;speed_kmh;t\n0;4,00;0,16;93,5;x\n10;--;nan;;y\n",
    "time_s\tpitot [psi]\tangled (mmH2O)\n-1\t0.1\t0.25\n-0.5\t0.1\t0.25\n",
    "time_s,pitot_pa,angled_pa\n0,1,2\n0.01,3,4\n900,1,2\n900.01,3,4\n5,1,2\n5.1,3,4\n")]
FILES = [content for _, _, content, _ in RECORDS]
PAYLOADS = [bytes([kind - 1]) + content[16:-4] for kind, _, content, _ in RECORDS]
VAULTS = [bytes([2 * kind - 2]) + len(content).to_bytes(2, "little") + content
          for kind, _, content, _ in RECORDS]
VAULTS += [bytes([128 + 2 * kind - 1]) + (len(content) - 19).to_bytes(2, "little") + b"\x01"
           + content[16:-4] for kind, _, content, _ in RECORDS]
VAULTS += [bytes([10 + i]) + len(text).to_bytes(2, "little") + text for i, text in enumerate((
    SETTINGS[2], b'{"pitot_dpa": 0, "angled_dpa": -12}', CALIBRATIONS[0]))]
SEEDS = {"records": FILES + PAYLOADS, "settings": SETTINGS, "calibration": CALIBRATIONS,
         "csv": FLIGHTS, "vault": VAULTS + [b"".join(VAULTS)]}
