# make demo    set up what it needs, then play the built-in scenario (no device needed)
# make test    set up what it needs, check the code, run every test on real ports and a real window
# make bench   measure speed, each figure next to a baseline from the same run
# make faults  kill, stop, unplug and flood everything on real ports, and say whether it held
# make pictures  draw every state of the window into pictures/, and the two of the README
SHELL := /bin/bash
VENV := .venv
PY := $(VENV)/bin/python
OUT ?= demo-out
EXTRAS_demo := window,sound
EXTRAS_test := window,sound,test
WORLD := tests/own-world.sh --screen

.PHONY: demo test lint style types unit bench faults pictures setup-demo setup-test clean

demo: setup-demo
	$(PY) -m live demo --out $(OUT)

test: setup-test style
	@$(MAKE) --no-print-directory -j2 types unit

lint: style types

style:
	$(PY) -m ruff check .
	$(PY) -m ruff format --check .

types:
	nice -n 19 $(PY) -m mypy

unit:
	$(WORLD) --limit 1200 tests/all.sh $(PY)

bench: setup-test
	$(WORLD) $(PY) -m tests.bench

faults: setup-test
	tests/own-world.sh --limit 600 $(PY) -m tests.faults

pictures: setup-demo
	QT_QPA_PLATFORM=offscreen $(PY) -m live.faces.window.pictures pictures
	mkdir -p docs/pictures
	cp pictures/answer-dark-window.png pictures/moved-light-window.png docs/pictures/
	$(PY) -m live demo --out pictures > /dev/null
	cp pictures/night-ferry.png docs/pictures/answer-night-ferry.png

setup-demo setup-test: setup-%: .make/%
	@.ci/system-packages $*

.make/%: pyproject.toml .ci/make-venv
	@.ci/make-venv $(VENV) "$(EXTRAS_$*)"
	@mkdir -p .make && touch $@

clean:
	rm -rf $(VENV) .make demo-out pictures build *.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis
