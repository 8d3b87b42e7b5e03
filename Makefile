# Every target only calls programs that can also be called by hand; see DEVELOPERS.md.
.DEFAULT_GOAL := help
.PHONY: help run test check format lock bench clean-state ready ready-to-test

# The first Python that is new enough; the set-up says what to do when there is none.
PYTHON ?= $(shell for p in python3 python3.14 python3.13 python3.12 python3.11; do \
	$$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$p && exit; done; echo python3)
PORT ?= 8000
HOST ?= 127.0.0.1
SHOP ?= demo
WORKERS ?= 2
VENV := .venv/bin

help: ## This list
	@sed -n 's/^\([a-z-]*\):.*## /\1\t/p' $(MAKEFILE_LIST) | expand -t 14

run: ready ## Set everything up and serve it with the demo (SHOP=empty: a new shop; PORT=8000; HOST=127.0.0.1)
	@exec $(VENV)/python manage.py up --host $(HOST) --port $(PORT) --$(SHOP)

test: ready-to-test check ## Set everything up, check the code, run all tests (WORKERS=2)
	$(VENV)/pytest -n $(WORKERS) --dist loadgroup

check: ready-to-test ## Format, lint, types, layers, templates, migrations, compose file
	$(VENV)/ruff format --check --quiet .
	$(VENV)/ruff check --quiet .
	$(VENV)/mypy manage.py shop vehicles jobs billing tests
	$(VENV)/lint-imports --no-logo
	@git ls-files --cached --others --exclude-standard 'templates/*.html' | xargs $(VENV)/djade --target-version 5.2 --check
	$(VENV)/check-jsonschema --builtin-schema vendor.compose-spec docker-compose.yml
	$(VENV)/python manage.py check --fail-level WARNING
	$(VENV)/python manage.py makemigrations --check --dry-run

format: ready-to-test ## Put code and templates into shape
	$(VENV)/ruff check --fix --quiet . || true
	$(VENV)/ruff format .
	@git ls-files --cached --others --exclude-standard 'templates/*.html' | xargs $(VENV)/djade --target-version 5.2

lock: ready-to-test ## Pin the newest packages that requirements/*.in allow
	$(VENV)/uv pip compile --quiet --upgrade --universal --python-version 3.11 --generate-hashes --no-header \
		--no-annotate --no-emit-index-url requirements/base.in --output-file requirements/base.txt
	$(VENV)/uv pip compile --quiet --upgrade --universal --python-version 3.11 --generate-hashes --no-header \
		--no-annotate --no-emit-index-url requirements/dev.in --constraint requirements/base.txt \
		--output-file requirements/dev.txt

bench: ready ## Measure the figures and compare them with their bounds
	$(VENV)/python manage.py bench

clean-state: ready ## Throw away the state folder: database, queue, files, keys
	$(VENV)/python manage.py clean_state

ready:
	@$(PYTHON) shop/setup/bootstrap.py run

ready-to-test:
	@$(PYTHON) shop/setup/bootstrap.py test
