"""Sentences for people: one catalogue per language, rendered at the doors."""

from eavelight.wording.catalogue import catalogue, languages, say
from eavelight.wording.numbers import minus, quantity, shown, with_uncertainty

__all__ = [
    "catalogue",
    "languages",
    "minus",
    "quantity",
    "say",
    "shown",
    "with_uncertainty",
]
