# Each of these works alone on a machine with python3 (3.11 or newer), make and the package registry.
VENV := .venv
PYTHON := $(VENV)/bin/python
.PHONY: demo test lint types layers bench truth accept screenshots axe clean

$(VENV)/.ready: pyproject.toml
	python3 -m venv $(VENV)
	$(PYTHON) -m pip install --quiet --editable '.[dev]'
	touch $@

# The demo has findings, so the check ends with 1; anything else is a failure.
demo: $(VENV)/.ready
	@$(VENV)/bin/advisor check profiles/kestrel-yard.yaml || test $$? -eq 1
	@mkdir -p build
	@$(VENV)/bin/advisor report profiles/kestrel-yard.yaml -o build/kestrel-yard.html

test: $(VENV)/.ready
	$(PYTHON) -m pytest -n auto

lint: $(VENV)/.ready
	$(VENV)/bin/ruff check . && $(VENV)/bin/ruff format --check .

types: $(VENV)/.ready
	$(VENV)/bin/mypy

layers: $(VENV)/.ready
	$(PYTHON) -m pytest tests/test_layers.py

bench: $(VENV)/.ready
	$(PYTHON) bench/bench.py
	$(PYTHON) bench/rank.py
	$(PYTHON) bench/walk.py
	$(PYTHON) bench/outage.py
	$(PYTHON) bench/report.py

# The models against simulated rows: ROWS=FOLDER for other rows, OUT=FILE for the table as JSON.
truth: $(VENV)/.ready
	@$(PYTHON) -m truth.compare $(if $(ROWS),--rows $(ROWS)) $(if $(OUT),--out $(OUT))

# Store the outputs of the golden runs as they are now; read the difference before committing it.
accept: $(VENV)/.ready
	ACCEPT_GOLDEN=1 $(PYTHON) -m pytest tests/bad_input tests/golden tests/test_readme.py tests/docs

# The demo's report and pictures of it, into docs/report; needs Debian's chromium, chromium-driver and poppler-utils.
screenshots: $(VENV)/.ready
	$(PYTHON) -m docs.make_screenshots

# The accessibility engine of the browser tests; without it those tests are skipped and say so.
axe:
	npm ci --prefix tests/browser/node --ignore-scripts

clean:
	rm -rf $(VENV) build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
