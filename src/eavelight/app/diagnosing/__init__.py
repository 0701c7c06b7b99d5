"""From the record to a case, and from a diagnosis back into the assessment."""

from eavelight.app.diagnosing.compose import assess_and_diagnose

__all__ = ["assess_and_diagnose"]
