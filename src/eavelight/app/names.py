"""Names that the data files define, for checking what a person wrote."""

from functools import cache

from eavelight.app.visit_folder.read import KnownNames
from eavelight.standards.colour_schemes import colour_schemes
from eavelight.standards.fibre_types import fibre_types
from eavelight.standards.pon_classes import load_pon_classes

VIDEO = "video"


@cache
def known_names() -> KnownNames:
    """Every id that a visit folder may use."""
    classes = tuple(load_pon_classes())
    return KnownNames(
        pon_classes=classes,
        services=(*classes, VIDEO),
        fibres=tuple(fibre_types()),
        colour_schemes=tuple(colour_schemes()),
        profiles=("default",),
    )
