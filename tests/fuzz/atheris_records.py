"""python -m tests.fuzz.atheris_records -max_total_time=60"""

from tests.fuzz.with_atheris import main

main("records")
