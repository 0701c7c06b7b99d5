"""What can go wrong in a store, in one hierarchy for every database."""

from eavelight.errors import EavelightError


class StoreError(EavelightError):
    """A store cannot be used as asked."""

    def __init__(self, place: str, expected: str, found: str, advice: str) -> None:
        self.place = place
        self.expected = expected
        self.found = found
        self.advice = advice
        super().__init__(f"{place}: expected {expected}, found {found}; {advice}")


class AlreadyRecorded(EavelightError):  # noqa: N818  (a fact, not a fault)
    """The record holds an observation of that id, or another one in its place."""

    def __init__(self, visit: str, device: str, number: int) -> None:
        self.visit = visit
        self.device = device
        self.number = number
        super().__init__(
            f"visit {visit}: expected a new observation, found that device "
            f"{device[:8]} already recorded its number {number}; read the record "
            "again before adding to it"
        )
