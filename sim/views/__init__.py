"""Results made visible: tables, a run told step by step, a page of findings, plots."""
