"""The frozen words of the record: plan, observation, finding, message."""

from eavelight.model.finding import (
    Action,
    Assessment,
    Finding,
    Limit,
    Quantity,
    Step,
    Verdict,
)
from eavelight.model.message import Message
from eavelight.model.observation import (
    Evidence,
    ExceptionNote,
    Observations,
    Reading,
)
from eavelight.model.plan import (
    RESERVED_PLACES,
    Assignment,
    Battery,
    Entry,
    Feed,
    Housing,
    Loop,
    Part,
    Plan,
    Plant,
    Service,
    Site,
    SupplyPlace,
    Tray,
)
from eavelight.model.visit import Visit, VisitHead

__all__ = [
    "RESERVED_PLACES",
    "Action",
    "Assessment",
    "Assignment",
    "Battery",
    "Entry",
    "Evidence",
    "ExceptionNote",
    "Feed",
    "Finding",
    "Housing",
    "Limit",
    "Loop",
    "Message",
    "Observations",
    "Part",
    "Plan",
    "Plant",
    "Quantity",
    "Reading",
    "Service",
    "Site",
    "Step",
    "SupplyPlace",
    "Tray",
    "Verdict",
    "Visit",
    "VisitHead",
]
