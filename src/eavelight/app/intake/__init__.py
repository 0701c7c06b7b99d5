"""Files from outside: told by their content, tried out in a limited process first.

Only what that process could decode, or refused in good order, is let near the record.
"""

from eavelight.app.intake.content import CONTENT, Content, content_of
from eavelight.app.intake.limited import LimitedDecoder, Looked, TooMuchError

__all__ = [
    "CONTENT",
    "Content",
    "LimitedDecoder",
    "Looked",
    "TooMuchError",
    "content_of",
]
