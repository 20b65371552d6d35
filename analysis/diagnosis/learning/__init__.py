"""Fitting the model to past visits: expectation, maximisation, each visit judged by the others."""
