"""Started inside the MicroPython VM: every file of a folder as each kind of JSON record.

Prints `kind file: taken`, or the problem in words; stops where something else is raised.
"""

import os
import sys

from alula.json_records import value_of
from alula.record_payloads import CALIBRATION, SETTINGS, ZERO
from alula.settings import load


def main(folder: str) -> None:
    for name in sorted(os.listdir(folder)):
        with open(folder + "/" + name, "rb") as file:
            data = file.read()
        for kind in (SETTINGS, ZERO, CALIBRATION):
            value, problem = value_of(kind, data)
            if kind == SETTINGS and not problem:
                found = load(value)[1]
                problem = found[0][1] if found else ""
            print("%d %s: %r" % (kind, name, problem or "taken"))


main(sys.argv[1])
