# Every target sets up what it needs, in .venv.
PYTHON ?= python3
BIN := .venv/bin
INSTALL := $(BIN)/pip install --quiet --constraint constraints.txt --editable

.PHONY: help demo test lint accuracy bench report photos clean

help:  ## list the targets
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 12

demo: .venv/for-use  ## read the sample photos; readings on the terminal, pictures and a report in demo/
	$(BIN)/lastwet demo demo

test: .venv/for-work  ## run the tests
	$(BIN)/python -m pytest -q --numprocesses auto --dist loadfile

lint: .venv/for-work  ## style, types and the direction of imports
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

accuracy: .venv/for-work  ## score the reader on the corpus, or on PHOTOS=folder
	$(BIN)/python -m fixtures.accuracy $(PHOTOS)

bench: .venv/for-work  ## time a warm reading against a full decode, a large log, and the page; kill writers
	$(BIN)/python -m fixtures.bench
	$(BIN)/python -m fixtures.bench_log
	$(BIN)/python -m fixtures.bench_page

report: .venv/for-work  ## sample reports of an invented job, HTML and PDF, in out/report
	rm -rf out/report
	$(BIN)/python -m fixtures.sample_report out/report

photos: .venv/for-photos  ## render what is missing from the corpus (half a minute a photo)
	$(BIN)/python -m fixtures.render

clean:  ## remove what the other targets made
	rm -rf .venv demo out build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache

.venv/bin/pip:
	$(PYTHON) -m venv .venv

.venv/for-use: pyproject.toml constraints.txt | .venv/bin/pip
	$(INSTALL) '.[all]'
	@touch $@

.venv/for-work: pyproject.toml constraints.txt | .venv/bin/pip
	$(INSTALL) '.[all,dev]'
	@touch $@ .venv/for-use

.venv/for-photos: pyproject.toml constraints.txt | .venv/bin/pip
	$(INSTALL) '.[all,dev,render]'
	@touch $@ .venv/for-use .venv/for-work
