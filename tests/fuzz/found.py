"""Inputs that broke a promise once, or that a fuzzer found interesting. They stay.

(target, bytes): run by `test_found.py`. With each: what went wrong.
"""

from tests.fuzz.targets import framed

DEEP = b"[" * 4000
FOUND = (
    # a payload longer than any record may be was taken, and could not have been written again
    ("records", framed(1, 1, b"{\n" + b" " * 4001 + b"}\n")),
    ("records", framed(5, 1, b"x" * 1200)),
    ("records", framed(5, 1, b"x" * 1201)),
    # settings text that nobody writes so: the last of two values counted
    ("records", framed(1, 1, b'{\n"window_ms": 120,\n"window_ms": 200\n}\n')),
    ("records", framed(1, 1, b'{"window_ms": 120}')),
    ("records", framed(1, 1, b'{\n"window_ms": -0\n}\n')),
    ("records", framed(1, 1, b'{\n"window_ms": 1e400\n}\n')),
    ("records", framed(1, 1, DEEP)),
    ("records", framed(4, 1, b"\x00\x01\x00")),  # not set, and yet a number
    # a name that stands twice: the last counted, without a word
    ("settings", b'{"window_ms": 120, "window_ms": 200}'),
    ("settings", b'{"window_ms": 120, "lead_ms": 50, "window_ms": 120}'),
    ("calibration", b'{"flap": 0, "flap": 20, "points": [[0, 200], [8000, 1000]]}'),
    # an error as long as the name or the cell it complained about
    ("settings", b'{"' + b"x" * 3000 + b'": 1}'),
    ("calibration", b'{"' + b"x" * 3000 + b'": 1}'),
    ("csv", b"time_s,pitot_pa," + b"x" * 3000 + b"\n0,1,2\n"),
    ("csv", b"time_s,pitot_pa,angled_pa\n0,1," + b"9" * 3000 + b"\n"),
    # the edges of what a number may be
    ("settings", DEEP), ("calibration", DEEP), ("settings", b"9" * 5000),
    ("settings", b'{"window_ms": NaN}'), ("settings", b'{"format": "a\\nb"}'),
    ("csv", b"time_s,pitot_pa,angled_pa\n0,1_0,2\n"), ("csv", b"time_s\x00,pitot_pa,angled_pa\n"),
    ("csv", "time_s,pitot_pa,angled_pa\n0,\u0661,2\n".encode()),
    ("csv", b'time_s,pitot_pa,angled_pa\n0,"1\n",2\n'), ("csv", b"\r"), ("csv", b"\xff\xfe"),
    ("csv", b"time_s,pitot_pa,angled_pa\n1e400,1,2\n"),
    ("csv", b'time_s,pitot_pa,angled_pa\n0,1,"' + b"7" * 140000 + b'"\n'),
)
# The board's own JSON reader is lenient: each of these stopped the start of the unit, or meant
# something there, while the desk refused it. Run in the VM by tests/fuzz/test_found.py.
BOARD_JSON = (
    b'{1: 1, "window_ms": 2}', b'{null: 1, "plumbing": 2}', b"[" * 16000,
    b'{"curves": [{"flap": 0, 1: 2, "points": [[0, 1], [2, 1000]]}]}',
    b'{"window_ms": 120 0}', b'{"window_ms" 120}', b'{"window_ms": 120,}', b'{"window_ms": 120]',
    b'{"window_ms":: 120}', b'{, "window_ms": 120}', b'{"window_ms": 120, "window_ms": 200}',
    b'{"window_ms": 120 "lead_ms": 50}', b'{"pitot_dpa": 0, "angled_dpa": 1 2}',
    b'{"pitot_dpa": 0, "ang\\led_dpa": -12}',
    b'{"plumbing": "opposed", "points": [[0 200], [8000, 1000]]}',
    b'{"plumbing": "opposed", "points": [[0, 200], [8000, 1000]}}',
)
