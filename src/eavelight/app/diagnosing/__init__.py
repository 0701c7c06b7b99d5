"""From the record to a case, and from a diagnosis back into the assessment."""

from eavelight.app.diagnosing.compose import assess_and_diagnose, with_diagnosis
from eavelight.app.diagnosing.many import diagnose_many

__all__ = ["assess_and_diagnose", "diagnose_many", "with_diagnosis"]
