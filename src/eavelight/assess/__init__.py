"""From plan and observations to findings, one module per group of requirements."""

from eavelight.assess.assessment import assess, context_of, findings_of
from eavelight.assess.context import Context

__all__ = ["Context", "assess", "context_of", "findings_of"]
