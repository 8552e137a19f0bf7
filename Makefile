# Two commands set up everything: `make demo` runs the main job on the built-in robot, `make test` passes all checks.
VENV ?= .venv
BIN := $(VENV)/bin
PYTHON ?= python3
.DEFAULT_GOAL := help
.PHONY: test-screen help demo window test check test-fast test-ble bench clean

help:
	@echo "make demo    set everything up and run the main job on the built-in robot (simulated)"
	@echo "make window  the same, but open the window"
	@echo "make test    all checks: style, types, import directions, tests"
	@echo "make check   style, types and import directions only"
	@echo "make test-screen  the window's tests on a real screen (Xvfb)"
	@echo "make test-ble  the BLE tests alone"
	@echo "make bench   print the measured figures"

$(VENV)/.run: requirements/run.txt requirements/build.txt pyproject.toml
	@sh .ci/system_libraries.sh run
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/build.txt -r requirements/run.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	@touch $@

$(VENV)/.dev: requirements/dev.txt $(VENV)/.run
	@sh .ci/system_libraries.sh test
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	@touch $@

demo: $(VENV)/.run
	@$(BIN)/sidelong demo

window: $(VENV)/.run
	@$(BIN)/sidelong window

check: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# The tests run side by side on two cores. What drives the window, and what measures, runs by itself.
test: check
	$(BIN)/python -m pytest -n 2 --dist loadfile -m "not bench" --ignore=tests/gui
	$(BIN)/python -m pytest tests/gui
	$(BIN)/python -m pytest -m bench
	@$(MAKE) --no-print-directory test-screen

# The window on a real screen: the tests above drive it without one.
test-screen: $(VENV)/.dev
	@if command -v xvfb-run >/dev/null; then \
	  SIDELONG_TEST_SCREEN=1 QT_QPA_PLATFORM=xcb xvfb-run -a -s "-screen 0 1920x1080x24" \
	    $(BIN)/python -m pytest -q tests/gui/test_live_and_record.py tests/gui/test_link.py tests/gui/test_runs.py \
	      tests/gui/test_filling_in.py tests/gui/test_decide.py tests/gui/test_colours.py; \
	else echo "No Xvfb here: the window was driven without a screen only."; fi

test-fast: $(VENV)/.dev
	$(BIN)/python -m pytest -m "not bench and not soak" --ignore=tests/ble --ignore=tests/gui

test-ble: $(VENV)/.dev
	$(BIN)/python -m pytest tests/ble

bench: $(VENV)/.dev
	$(BIN)/python -m pytest -s -m bench tests/bench

clean:
	rm -rf $(VENV) build dist *.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
