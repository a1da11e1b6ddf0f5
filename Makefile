# Two commands do everything: `make demo` and `make test`. Each sets up what it needs.

VENV := .venv
BIN := $(VENV)/bin
PYTHON ?= python3
# Types of the board's own modules. Kept apart from the desk's packages: they would shadow its
# standard library there.
STUBS := "micropython-rp2-rpi_pico-stubs>=1.24,<2"
ESP32_STUBS := "micropython-esp32-stubs>=1.24,<2"

.PHONY: help demo test laws fuzz campaign tuning lint bench mpy reference drawings clean

help: ## list the targets
	@grep -E '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

$(BIN)/.run: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -e .
	touch $@

$(BIN)/.test: $(BIN)/.run
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[test]"
	touch $@

$(BIN)/.lint: $(BIN)/.run
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[lint]"
	$(BIN)/pip install --quiet --disable-pip-version-check --target $(VENV)/stubs $(STUBS)
	$(BIN)/pip install --quiet --disable-pip-version-check --target $(VENV)/stubs32 $(ESP32_STUBS)
	touch $@

$(BIN)/.drawings: $(BIN)/.run
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[drawings]"
	touch $@

demo: $(BIN)/.run ## fly whole flights through the firmware; pictures and sounds go to out/
	$(BIN)/python -m host_sim.demo

test: $(BIN)/.test ## every test, on CPython and in the MicroPython VM
	$(BIN)/python -m pytest -n auto

laws: $(BIN)/.test ## the capture on 2000 invented wings and 200 live flights; the tuning engine at length
	ALULA_FULL_LAWS=1 $(BIN)/python -m pytest -n auto tests/laws/test_capture_family.py \
		tests/external/test_capture_jsbsim.py tests/end_to_end/test_nuisance.py \
		tests/laws/test_tuning_on_truth.py tests/laws/test_tuning_equals_firmware.py \
		tests/laws/test_tuning_in_stretches.py

fuzz: $(BIN)/.test ## a million random words in the VM, the parsers a hundred times longer
	ALULA_FULL_FUZZ=1 $(BIN)/python -m pytest -n auto tests/fuzz tests/vm/test_fuzz_words.py

campaign: $(BIN)/.run ## every fault in every phase of flight: thousands of flights, minutes
	$(BIN)/python -m host_sim.campaign --page

tuning: $(BIN)/.test ## the worked fleet of hardware_notes/tuning.md: 12 flights, minutes; writes its page
	$(BIN)/python -m host_sim.tuning.telling.worked

lint: $(BIN)/.lint ## style, types, and whether the docs are up to date
	$(BIN)/ruff check .
	MYPYPATH=.:firmware:host_sim/runtimes/shim $(BIN)/mypy --explicit-package-bases --exclude shim/ host_sim
	MYPYPATH=firmware:$(VENV)/stubs $(BIN)/mypy --explicit-package-bases firmware
	MYPYPATH=firmware:$(VENV)/stubs32 $(BIN)/mypy --explicit-package-bases firmware/boards/esp32.py
	$(BIN)/python -m host_sim.reference --check
	$(BIN)/python -m host_sim.notes --check

bench: $(BIN)/.test ## measure speed, allocation and size; prints a table
	$(BIN)/python -m tests.benchmarks

mpy: $(BIN)/.test ## compile the firmware for RP2040 and ESP32 into build/mpy
	$(BIN)/python -m host_sim.compile_mpy

reference: $(BIN)/.run ## make the reference pages from the firmware's tables
	$(BIN)/python -m host_sim.reference
	$(BIN)/python -m host_sim.notes
	$(BIN)/python -m host_sim.notes.runs

drawings: $(BIN)/.drawings ## draw the SVG files of hardware_notes/
	$(BIN)/python -m host_sim.drawings

clean: ## remove everything that was made
	rm -rf $(VENV) build out .hypothesis .pytest_cache .mypy_cache .ruff_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
