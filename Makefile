PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
WORKERS ?= 2

.PHONY: demo docs notebook web test test-slow test-all lint mutation fuzz faults bench pictures clean

$(STAMP): pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "accomp needs Python 3.11 or newer; set PYTHON=...")'
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[dev]'
	touch $(STAMP)

demo: $(STAMP)
	$(BIN)/accomp make examples/harbour-street-parade.toml --out demo
	$(BIN)/accomp practice examples/harbour-street-parade.toml --out demo

# What the practice page is built from TypeScript and fonts; needs Node. A user needs it not.
web: $(STAMP)
	cd accomp/web/script && npm ci --ignore-scripts --no-audit --no-fund && npm run build
	$(BIN)/python -m docs.page_type

# Tests start Python over and over: what it has compiled is kept, even where a shell says otherwise.
test test-slow test-all: export PYTHONDONTWRITEBYTECODE =

# Tests of one file share what is costly to make (a page, a desk, a font), so they go to one worker.
TESTS = $(BIN)/python -m pytest -n $(WORKERS) --dist loadfile

# What is run after every change; it ends by naming the ten slowest, so that it is seen what grows.
test: $(STAMP)
	$(TESTS) -m 'not long and not slow' --durations=10 --durations-min=1

# The rest of what is run before anything lands.
test-slow: $(STAMP)
	$(TESTS) -m 'slow and not long'

test-all: $(STAMP)
	$(TESTS)

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

mutation: $(STAMP)
	$(BIN)/python tests/mutation.py

# Odd inputs for an hour, or as long as you say: make fuzz SECONDS=36000
SECONDS ?= 3600
fuzz: $(STAMP)
	$(BIN)/python tests/fuzz/fuzz_run.py --seconds $(SECONDS)

faults: $(STAMP)
	$(BIN)/python tests/faults/fault_table.py

bench: $(STAMP)
	$(BIN)/python -m benchmarks

# The reference of the public API, as static pages, and man pages of the commands, in docs/site.
docs: $(STAMP)
	$(BIN)/python -m docs.reference
	$(BIN)/python -m docs.man_pages docs/site/man

# Run the example notebook and keep what its cells show.
notebook: $(STAMP)
	$(BIN)/python -m docs.notebook

pictures: $(STAMP)
	$(BIN)/python -m docs.pictures

clean:
	rm -rf $(VENV) demo out docs/site
