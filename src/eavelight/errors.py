"""The project's errors: one root, one class per situation, data instead of prose.

Every message says what was expected, what was found and what to do. The doors map
these classes to exit codes and pages in one place each.
"""

from dataclasses import dataclass


class EavelightError(Exception):
    """Root of every error that Eavelight raises on purpose."""


class EvidenceError(EavelightError):
    """A file cannot be read as what it claims to be.

    >>> print(EvidenceError("a.sor", "byte 12", "a name", "end of file"))
    a.sor: byte 12: expected a name, found end of file; take the file again from the
    instrument
    """

    def __init__(
        self,
        path: str,
        place: str,
        expected: str,
        found: str,
        *,
        advice: str = "take the file again from the instrument",
    ) -> None:
        self.path = path
        self.place = place
        self.expected = expected
        self.found = found
        self.advice = advice
        super().__init__(
            f"{path}: {place}: expected {expected}, found {found}; {advice}"
        )

    def at(self, path: str) -> "EvidenceError":
        """The same error, for a file whose path the decoder did not know."""
        return EvidenceError(
            path, self.place, self.expected, self.found, advice=self.advice
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One thing wrong in a file that a person wrote."""

    file: str
    place: str
    expected: str
    found: str
    advice: str

    def __str__(self) -> str:
        return (
            f"{self.file}: {self.place}: expected {self.expected}, "
            f"found {self.found}; {self.advice}"
        )


class FolderError(EavelightError):
    """A visit folder holds mistakes; all of them are in `mistakes`."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        self.mistakes = mistakes
        super().__init__("\n".join(str(mistake) for mistake in mistakes))


class MissingFeatureError(EavelightError):
    """A feature needs an optional library that is not installed."""

    def __init__(self, feature: str, extra: str, reason: str) -> None:
        self.feature = feature
        self.extra = extra
        self.reason = reason
        super().__init__(
            f"{feature}: needs the optional part [{extra}], which is not usable here "
            f"({reason}); install eavelight[{extra}]"
        )
