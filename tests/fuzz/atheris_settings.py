"""python -m tests.fuzz.atheris_settings -max_total_time=60"""

from tests.fuzz.with_atheris import main

main("settings")
