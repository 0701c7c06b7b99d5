"""What documents need of the optional part [report], for whoever lists features."""

import importlib.util
from dataclasses import dataclass

from eavelight.model.message import Message

EXTRA = "report"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportFeature:
    """A feature with the libraries it needs."""

    name: Message
    needs: tuple[str, ...]
    extra: str = EXTRA

    def missing(self) -> tuple[str, ...]:
        """Libraries that are not installed here; none of them is imported."""
        return tuple(name for name in self.needs if not _found(name))


def _found(name: str) -> bool:
    try:
        return importlib.util.find_spec(name) is not None
    except (ImportError, ValueError):
        return False


REPORT_FEATURES = (
    ReportFeature(
        name=Message("closeout.doctor.pdf"), needs=("typst", "matplotlib", "PIL")
    ),
    ReportFeature(
        name=Message("closeout.doctor.html"), needs=("jinja2", "matplotlib", "PIL")
    ),
)
