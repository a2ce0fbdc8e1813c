# make site   build the site into site/          make test    everything that must hold before a change goes in
# make serve  show it while you write            make clean   remove all that make made
# Nothing is needed beforehand but Python 3.11 or newer with its venv module (and, for the tests, npm and Chromium).

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
CACHE := .cache
SITE := site

# Used by tests only, and never kept in the project.
AXE_VERSION := 4.14.1
AXE_SHA512 := 1477dafa598d8d065f273d6af302aa203c02e83131707b7fa648cd41bd3d6b734f8c22a0dab86ee6a6f64b8afbe804b214d36db85a2826965edfb3a0b9d546b5
AXE := $(CACHE)/axe-core

export NO_MKDOCS_2_WARNING := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1
export RUFF_CACHE_DIR := $(CACHE)/ruff

# One commit always gives the same site: the build's date is the commit's.
ifndef SOURCE_DATE_EPOCH
COMMIT_DATE := $(shell git log -1 --format=%ct 2>/dev/null)
ifneq ($(COMMIT_DATE),)
export SOURCE_DATE_EPOCH := $(COMMIT_DATE)
endif
endif

.DELETE_ON_ERROR:
.PHONY: site serve test lint types layers pytest thorough words browser pictures bench bench-desk bench-site spin lock clean
.DEFAULT_GOAL := site

# The site is built aside and moved into place at the end, so that a build that fails leaves the last good one standing.
site: $(VENV)/.site-ready
	$(BIN)/stepfield check protocols
	@rm -rf $(CACHE)/site.new $(CACHE)/site.old
	@mkdir -p $(CACHE)
	$(BIN)/mkdocs build --quiet --strict --site-dir $(CACHE)/site.new
	@$(BIN)/stepfield verify $(CACHE)/site.new
	@if [ -e $(SITE) ]; then mv $(SITE) $(CACHE)/site.old; fi
	@mv $(CACHE)/site.new $(SITE)
	@rm -rf $(CACHE)/site.old
	@echo "Open $(SITE)/index.html in a browser."

serve: $(VENV)/.site-ready
	$(BIN)/mkdocs serve

test: lint types layers pytest

lint: $(VENV)/.test-ready
	$(BIN)/ruff format --check --diff .
	$(BIN)/ruff check .

types: $(VENV)/.test-ready
	$(BIN)/mypy --strict plugins

layers: $(VENV)/.test-ready
	$(BIN)/lint-imports --no-logo --cache-dir $(CACHE)/import-linter

pytest: $(VENV)/.test-ready browser $(AXE)/.ready-$(AXE_VERSION)
	$(BIN)/pytest -n 2 --dist worksteal --durations 5 -m "not slow"

# Brings the messages that the pages say into every catalogue; what is new waits there for a translation.
words: $(VENV)/.test-ready
	$(BIN)/python -m tests.site.messages

# Thousands of fresh random cases more; takes ten minutes and more.
thorough: $(VENV)/.test-ready
	$(BIN)/pytest -n 2 --dist worksteal --durations 5 -m slow

# Pinned and hashed, in a virtual environment of the project's own; the project itself is linked in, not copied.
$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "Stepfield needs Python 3.11 or newer; name one with: make PYTHON=python3.11" >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)
	@touch $@

$(VENV)/.site-ready: requirements.txt pyproject.toml | $(VENV)/.made
	$(BIN)/pip install --quiet --require-hashes -r requirements.txt
	$(BIN)/pip install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.test-ready: requirements-dev.txt $(VENV)/.site-ready
	$(BIN)/pip install --quiet --require-hashes -r requirements-dev.txt
	@touch $@

# The site is tried in Debian's Chromium. As root it is installed; otherwise the one who can is told what to install.
browser:
	@if command -v chromium >/dev/null && command -v chromedriver >/dev/null && command -v pdftotext >/dev/null; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
			apt-get install -y -qq --no-install-recommends chromium chromium-driver poppler-utils >/dev/null; \
	else \
		echo "The tests open the site in Chromium and look into what it prints. Install both first:" >&2; \
		echo "    sudo apt-get install chromium chromium-driver poppler-utils" >&2; \
		echo "or leave those tests out: $(BIN)/pytest -m 'not browser'" >&2; exit 1; \
	fi

$(AXE)/.ready-$(AXE_VERSION):
	@command -v npm >/dev/null || { echo "The tests need npm, to fetch axe-core $(AXE_VERSION)." >&2; exit 1; }
	@rm -rf $(AXE) && mkdir -p $(AXE)
	npm pack --silent --pack-destination $(AXE) axe-core@$(AXE_VERSION)
	@echo "$(AXE_SHA512)  $(AXE)/axe-core-$(AXE_VERSION).tgz" | sha512sum --check --quiet
	@tar -xzf $(AXE)/axe-core-$(AXE_VERSION).tgz -C $(AXE) --strip-components=1
	@touch $@

# Measures the engine against SPIN on the same protocols; writes bench/results.md and bench/results.svg. Takes minutes.
bench: $(VENV)/.site-ready spin
	PYTHONPATH=plugins $(BIN)/python -m bench

# Measures how long one waits at the desk, beside yamllint on the same files; writes bench/results-desk.md. Takes minutes.
bench-desk: $(VENV)/.test-ready
	PYTHONPATH=plugins $(BIN)/python -m bench.desk

# Measures a large clinic's site beside the same pages as ready Markdown; writes bench/site.md. Takes minutes.
bench-site: $(VENV)/.site-ready
	PYTHONPATH=plugins $(BIN)/python -m bench.site

# Every kind of page at every size it is read in, to be looked at.
pictures: $(VENV)/.test-ready browser
	$(BIN)/python -m tests.site.pictures build/pictures

# As root SPIN is installed; otherwise the one who can is told what to install.
spin:
	@if command -v spin >/dev/null && command -v gcc >/dev/null; then exit 0; fi; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
			apt-get install -y -qq --no-install-recommends spin gcc libc6-dev >/dev/null; \
	else \
		echo "The benchmark compares with SPIN. Install it first:" >&2; \
		echo "    sudo apt-get install spin gcc libc6-dev" >&2; exit 1; \
	fi

# Only for whoever changes a dependency; needs uv.
LOCK := uv pip compile pyproject.toml --group build --python-version 3.11 --universal --generate-hashes \
	--no-header --no-annotate --quiet
lock:
	$(LOCK) -o requirements.txt
	$(LOCK) --extra dev -c requirements.txt -o requirements-dev.txt

clean:
	rm -rf $(SITE) $(VENV) $(CACHE) dist build
	find plugins tests bench -name __pycache__ -type d -prune -exec rm -rf {} +
