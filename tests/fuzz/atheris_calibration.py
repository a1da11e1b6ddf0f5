"""python -m tests.fuzz.atheris_calibration -max_total_time=60"""

from tests.fuzz.with_atheris import main

main("calibration")
