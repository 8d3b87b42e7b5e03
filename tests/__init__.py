"""The tests; `tests/conftest.py` says which fixtures there are."""
