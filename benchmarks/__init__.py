"""Measured speed and accuracy, printed as tables; never part of the test suite."""
