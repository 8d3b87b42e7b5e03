"""A procedure being run: what is measured against which limits, where a run stands, what came of earlier runs."""
