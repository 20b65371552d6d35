"""Statistics that any room may use: tests, effect sizes, intervals, multiplicity, shrinkage, survival."""
