# Two commands matter to a newcomer:
#
#   make demo    sample sessions in the browser, no hardware (Ctrl-C ends it)
#   make test    the tests
#
# Both set up a virtual environment in .venv from the lock files first, and only when something changed.
# Another Python than python3:  make test PYTHON=python3.13

PYTHON ?= python3
VENV ?= .venv
PORT ?= 8050
JOBS ?= 2
BENCH ?= accuracy speed pages wire

BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
UV ?= $(BIN)/uv
LOCK := --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --annotation-style line --quiet

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help demo test lint types bench lock clean

help:
	@echo "make demo    sample sessions in the browser (PORT=8050), no hardware; Ctrl-C ends it"
	@echo "make test    the tests; parts whose tool is absent are skipped and named"
	@echo "make lint    ruff: rules and format"
	@echo "make types   pyright"
	@echo "make bench   $(BENCH): minutes; BENCH=\"coverage verdicts\" runs others of benchmarks/, up to an hour each"
	@echo "make lock    write the lock files anew from pyproject.toml"
	@echo "make clean   remove .venv and everything built"

# The shell outlives Ctrl-C to turn footroom's exit status 130 into a clean end.
demo: $(VENV)/run.stamp
	@trap : INT; $(BIN)/footroom demo --port $(PORT) || [ $$? -eq 130 ]

test: $(VENV)/dev.stamp
	$(BIN)/python -m pytest -n $(JOBS) --dist worksteal $(ARGS)

lint: $(VENV)/dev.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/dev.stamp
	$(BIN)/pyright

bench: $(VENV)/dev.stamp
	@for name in $(BENCH); do echo "== $$name"; $(BIN)/python "benchmarks/$$name.py" || exit 1; done

lock: $(UV)
	$(UV) pip compile $(LOCK) --group build -o requirements.lock pyproject.toml
	$(UV) pip compile $(LOCK) --group build --group dev -c requirements.lock -o requirements-dev.lock pyproject.toml

clean:
	rm -rf $(VENV) build dist footroom.egg-info .pytest_cache .ruff_cache .hypothesis

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(BIN)/uv: | $(BIN)/python
	$(PIP) install uv

# What running needs.
$(VENV)/run.stamp: requirements.lock pyproject.toml | $(BIN)/python
	@echo "Setting up $(VENV) (once; needs the network) ..."
	$(PIP) install --require-hashes -r requirements.lock
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

# What developing needs; it holds all that running needs, in the same versions.
$(VENV)/dev.stamp: requirements-dev.lock requirements.lock pyproject.toml | $(BIN)/python
	@echo "Setting up $(VENV) for tests (once; needs the network) ..."
	$(PIP) install --require-hashes -r requirements-dev.lock
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@ $(VENV)/run.stamp
