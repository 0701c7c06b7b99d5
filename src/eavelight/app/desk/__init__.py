"""Visits kept open: assessed when they change, listed with exceptions first, decided.

A long-running door uses this instead of the one-shot use cases. Everything that it
keeps beside the record can be thrown away at any time.
"""

from eavelight.app.desk.decide import Decision, decide, decision_of
from eavelight.app.desk.live import LiveRecord, LiveVisit
from eavelight.app.desk.summaries import QueueFilters, Summaries, Summary

__all__ = [
    "Decision",
    "LiveRecord",
    "LiveVisit",
    "QueueFilters",
    "Summaries",
    "Summary",
    "decide",
    "decision_of",
]
