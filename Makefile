# Everything a person types; `make help` lists it. Written for GNU make 3.81 (macOS) and later.
SHELL := /bin/sh
REPORTS ?= reports

# macOS drops this variable wherever a program of the system's own starts (its sh, its make),
# so it is set anew in front of each Python.
ifeq ($(shell uname -s),Darwin)
LIBRARIES := DYLD_FALLBACK_LIBRARY_PATH="$$(brew --prefix 2>/dev/null)/lib:/usr/local/lib:/usr/lib"
endif
PYTHON_HERE = $(LIBRARIES) .venv/bin/python

.PHONY: reports sample test check quick calibrate bench fuzz forget doctor templates clean lock help

reports: .venv/.runtime-ready ## Build the reports from exports/, or from sample_exports/ while that is empty
	@exports="$(EXPORTS)"; \
	if [ -z "$$exports" ]; then \
	    if [ -n "$$(find exports -type f ! -name '.*' 2>/dev/null | head -n 1)" ]; then \
	        exports=exports; \
	    else \
	        exports=sample_exports; echo "exports/ holds no file yet, so this is the sample."; \
	    fi; \
	fi; \
	echo "Building from $$exports/ into $(REPORTS)/"; \
	$(PYTHON_HERE) -m pipeline build --exports "$$exports" --reports "$(REPORTS)" \
	    $(if $(SETTINGS),--settings "$(SETTINGS)")

sample: ## Build the reports from sample_exports/, whatever exports/ holds
	@$(MAKE) --no-print-directory reports EXPORTS=sample_exports

test: check ## Format, lint, types and all tests
	@$(PYTHON_HERE) -m pytest -n 2 --dist worksteal

forget: .venv/.runtime-ready ## Take a person out: make forget ATHLETE=id
	@$(PYTHON_HERE) -m pipeline forget --exports "$(or $(EXPORTS),exports)" \
	    --reports "$(REPORTS)" $(if $(SETTINGS),--settings "$(SETTINGS)") "$(ATHLETE)"

doctor: .venv/.runtime-ready ## Check this machine and the folders, and say how to mend what is wrong
	@$(PYTHON_HERE) -m pipeline doctor --exports "$(or $(EXPORTS),exports)" \
	    --reports "$(REPORTS)" $(if $(SETTINGS),--settings "$(SETTINGS)")

templates: .venv/.runtime-ready ## Write blank workbooks for every kind of export into templates/
	@$(PYTHON_HERE) -m pipeline templates "$(or $(TEMPLATES),templates)"

check: .venv/.dev-ready ## Format, lint and types: runs all three, then says which failed
	@failed=""; \
	.venv/bin/python -m ruff format --check --output-format concise . || failed="$$failed format"; \
	.venv/bin/python -m ruff check . || failed="$$failed lint"; \
	.venv/bin/python -m mypy || failed="$$failed types"; \
	if [ -n "$$failed" ]; then echo "Failed:$$failed"; exit 1; fi

quick: check ## Format, lint, types and the quicker tests: every few minutes
	@$(PYTHON_HERE) -m pytest -n 2 --dist worksteal $(QUICK)
QUICK := -m "not slow and not night" tests/intake tests/report tests/warehouse tests/test_*.py

calibrate: .venv/.dev-ready ## Simulated squads with known truth: are the chances right? (minutes)
	@.venv/bin/python -m tests.benchmarks.calibration
	@.venv/bin/python -m tests.benchmarks.following

bench: .venv/.dev-ready ## Time intake, estimate, whole builds against a peer, and growth (half an hour, nothing beside)
	@.venv/bin/python -m tests.benchmarks.stages
	@.venv/bin/python -m tests.benchmarks.intake
	@.venv/bin/python -m tests.benchmarks.estimate_speed
	@$(PYTHON_HERE) -m tests.benchmarks.build_time
	@$(PYTHON_HERE) -m tests.benchmarks.whole_builds
	@$(PYTHON_HERE) -m tests.benchmarks.scaling

fuzz: .venv/.dev-ready ## Night run: 20,000 damaged files, 20,000 cases of harm, 5,000 generated weeks (what is wrong lies in damaged/)
	@failed=""; \
	.venv/bin/python -m tests.intake.test_fuzz 20000 || failed="$$failed files"; \
	.venv/bin/python -m tests.end_to_end.hostile_cases 20000 || failed="$$failed harm"; \
	.venv/bin/python -m tests.weeks.night 5000 || failed="$$failed weeks"; \
	.venv/bin/python -m pytest -m night || failed="$$failed same-weeks"; \
	if [ -n "$$failed" ]; then echo "Failed:$$failed"; exit 1; fi

clean: ## Remove reports/, damaged/ and the tools' caches; exports/ and .venv/ stay
	@rm -rf reports damaged .pytest_cache .mypy_cache .ruff_cache .hypothesis
	@find pipeline schemas tests -name __pycache__ -type d -prune -exec rm -rf {} +

lock: ## Pin the newest versions that pyproject.toml allows (needs uv)
	@uv pip compile --quiet --upgrade $(LOCK_AS) pyproject.toml -o .setup/runtime.lock
	@uv pip compile --quiet --upgrade $(LOCK_AS) pyproject.toml --group dev -o .setup/dev.lock
	@uv pip compile --quiet $(LOCK_AS) pyproject.toml --extra cluster -c .setup/dev.lock -o .setup/cluster.lock
LOCK_AS := --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
	--no-emit-find-links --no-header --no-annotate

help: ## List these targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "  make %-11s %s\n", $$1, $$2 }' Makefile
	@echo
	@echo "  make EXPORTS=folder REPORTS=folder SETTINGS=file   other places than exports/ and reports/"

# Set-up happens once: again only when a lock file or the script changes, or .venv breaks.
.venv/.runtime-ready: .setup/runtime.lock .setup/setup.sh .venv/bin/python
	@sh .setup/setup.sh runtime

.venv/.dev-ready: .setup/dev.lock .setup/setup.sh .venv/bin/python
	@sh .setup/setup.sh dev

.venv/bin/python: ;
