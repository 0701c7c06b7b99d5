"""The only place that asks what time it is."""

from datetime import UTC, datetime


def now() -> datetime:
    """The present moment, in UTC."""
    return datetime.now(UTC)
