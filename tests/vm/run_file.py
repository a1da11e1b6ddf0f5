"""Started inside the MicroPython VM: runs every `test_*` of one file; there is no pytest here.

    micropython run_file.py tests/both/test_x.py
"""

import sys


def main(path: str) -> int:
    """Number of failed tests; prints `name ok`, or a traceback."""
    with open(path) as file:
        source = file.read()
    room = {"__name__": "both", "__file__": path}
    exec(compile(source, path, "exec"), room)
    failed = 0
    for name in sorted(room):
        if name.startswith("test_"):
            try:
                room[name]()
                print(name, "ok")
            except Exception as error:
                failed += 1
                print(name, "FAILED")
                sys.print_exception(error, sys.stdout)
    return failed


sys.exit(1 if main(sys.argv[1]) else 0)
