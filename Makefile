# Needs Python 3.11 to 3.13, git and make; everything else is set up below .venv.
.DEFAULT_GOAL := site
.DELETE_ON_ERROR:
.PHONY: site check plan sheets due crate verify test bench calibrate faults house cluster lint lock clean

CONFIG ?= config/config.yaml
PLAN ?= config/plan.yaml
CORES ?= all
ifeq ($(origin PYTHON),undefined)
PYTHON := $(shell command -v python3.11 || command -v python3.12 || command -v python3.13 || command -v python3)
endif
override VENV := .venv
# Names that people give are arguments, never code: as typed into the environment, from where the shell of a recipe takes them
# as one word ("$$CONFIG"). Without `value` make would run a $(shell …) in them, in a recipe as well as on the way there.
NAMES := CONFIG PLAN CORES CRATE INTO TODAY DAYS PYTHON PYTEST BENCH CALIBRATE FAULTS HOUSE
$(foreach name,$(NAMES),$(eval override $(name) := $$(value $(name))))
export $(NAMES)
# a run must not depend on the user's own site-packages, nor on an activated environment
RUN := env -u PYTHONPATH -u PYTHONHOME PATH="$$PWD/$(VENV)/bin:$$PATH"
# words for a program of the tests, of which xargs takes quotation marks away, and nothing else
WITH = @printf '%s\n' "-m $(1) $$$(2)" | $(RUN) xargs python

# Build the report of one study: results/<study>/site/index.html
site: $(VENV)/run.stamp
	@$(RUN) python -m hilum.settings "$$CONFIG"
	@$(RUN) snakemake --cores "$$CORES" --configfile="$$CONFIG"

# Check the raw tables only: results/<study>/check.txt
check: $(VENV)/run.stamp
	@$(RUN) python -m hilum.settings "$$CONFIG"
	@$(RUN) snakemake --cores "$$CORES" --configfile="$$CONFIG" --until check

# Pack a study, its report and this code for a repository that gives DOIs: results/<study>/crate.zip
crate: $(VENV)/run.stamp
	@$(RUN) python -m hilum.settings "$$CONFIG"
	@$(RUN) snakemake --cores "$$CORES" --configfile="$$CONFIG" -- crate

# Rerun a crate (make verify CRATE=path/to/crate.zip), and say which numbers moved
verify: $(VENV)/run.stamp
	@$(RUN) python -m hilum.steps.verify -- "$$CRATE"

# Work out a plan before the first seed is wet: results/plans/<name>/index.html
plan: $(VENV)/run.stamp
	@$(RUN) python -m hilum.steps.plan "$$PLAN"

# Write the tables of a planned study, ready to be filled in: results/plans/<name>/study, or INTO=path/to/folder
sheets: $(VENV)/run.stamp
	@$(RUN) python -m hilum.steps.sheets "$$PLAN" "$$INTO"

# Say what is to be inspected, weighed or sown today, what is overdue, and what comes: make due CONFIG=… TODAY=2026-12-01 DAYS=7
due: $(VENV)/run.stamp
	@$(RUN) python -m hilum.steps.due "$$CONFIG" "$$TODAY" "$$DAYS"

# Run every test
test: $(VENV)/tests.stamp
	$(call WITH,pytest -n 2,PYTEST)

# Time fits and workflow against yardsticks of the same run
bench: $(VENV)/tests.stamp
	$(call WITH,tests.bench,BENCH)

# Simulate studies, and write the table of how often the printed intervals hold the truth
calibrate: $(VENV)/tests.stamp
	$(call WITH,tests.calibration,CALIBRATE)

# Damage studies and stress fits, and write the counts of what became of them
faults: $(VENV)/tests.stamp
	$(call WITH,tests.faults,FAULTS)

# Print the figures of the house: lines of each room, loose types, long functions (HOUSE="--mutants 60": damages that tests miss)
house: $(VENV)/tests.stamp
	$(call WITH,tests.house,HOUSE)

# Format, lint and type checks, the same as in pre-commit
lint: $(VENV)/tests.stamp
	@$(RUN) pre-commit run --all-files

# Write the locks anew from pyproject.toml (needs uv)
LOCK := uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-emit-index-url --no-emit-find-links --no-header --no-annotate
lock:
	$(LOCK) pyproject.toml -o requirements.lock
	$(LOCK) --extra tests -c requirements.lock pyproject.toml -o tests/requirements.lock
	$(LOCK) tests/standards/requirements.in -o tests/standards/requirements.lock
	$(LOCK) --extra slurm -c requirements.lock pyproject.toml -o profiles/slurm/requirements.lock

# Run the demo and a slice of the calibration on Slurm, on this one host, and compare with a run without it
cluster: $(VENV)/slurm.stamp $(VENV)/tests.stamp
	@$(RUN) bash tests/cluster/compare.sh

clean:
	rm -rf $(VENV) $(VENV).lock .snakemake .pytest_cache .mypy_cache .ruff_cache

# One set-up at a time: the second waits, and finds it done. One that was killed may lack anything, so the next begins from nothing.
PIP := $(VENV)/bin/python -m pip install --quiet --require-hashes
STALE = for one in $^; do test $@ -nt $$one || stale=yes; done; test -z "$$stale" || {
SET_UP = @PYTHONPATH=workflow "$$PYTHON" -m hilum.alone $(VENV).lock sh -ec '$(STALE)

$(VENV)/run.stamp: requirements.lock pyproject.toml
	$(SET_UP) echo "Putting the packages of requirements.lock into $(VENV): once, for a minute or two."; \
	test -f $@ || "$$PYTHON" -m venv --clear $(VENV); \
	rm -f $@; \
	$(PIP) -r requirements.lock; \
	$(VENV)/bin/python -m pip install --quiet --no-deps --no-build-isolation --editable .; \
	touch $@; }'

$(VENV)/tests.stamp: tests/requirements.lock $(VENV)/run.stamp $(VENV)/standards.stamp
	$(SET_UP) $(PIP) -r tests/requirements.lock; touch $@; }'

# the validators of crates and data packages want other versions of packages than a run does
$(VENV)/standards.stamp: tests/standards/requirements.lock | $(VENV)/run.stamp
	$(SET_UP) "$$PYTHON" -m venv --clear $(VENV)/standards; \
	$(VENV)/standards/bin/python -m pip install --quiet --require-hashes -r tests/standards/requirements.lock; touch $@; }'

$(VENV)/slurm.stamp: profiles/slurm/requirements.lock $(VENV)/run.stamp
	$(SET_UP) $(PIP) -r profiles/slurm/requirements.lock; touch $@; }'
