"""A sentence for people, before it is put into words.

The core never writes prose. It names a sentence of the catalogue and the values that
go into it; `wording` turns both into text at the doors.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence id with its named values.

    Values are numbers, strings, tuples of strings, or further messages.

    >>> Message("caution.ladder", {}).id
    'caution.ladder'
    """

    id: str
    values: Mapping[str, Any] = field(default_factory=dict)
