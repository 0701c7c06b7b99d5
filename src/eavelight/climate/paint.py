"""Share of sunlight that a colour takes in, new and weathered.

Sources: measured coatings (white titanium dioxide 0.19, white epoxy 0.25, grey oil
paint 0.75, black acetal 0.96) and, for building colours, common practice.
"""

from types import MappingProxyType

ABSORPTANCE = MappingProxyType(
    {
        "white": 0.25,
        "white aged": 0.40,
        "light grey": 0.50,
        "beige": 0.50,
        "mid grey": 0.70,
        "dark grey": 0.85,
        "dark brown": 0.90,
        "dark green": 0.90,
        "black": 0.95,
    }
)
"""Solar absorptance by colour [1]."""

WEATHERED_WHITE = "white aged"
COMPARED = ("white", "light grey", "dark brown")
"""The three colours of the comparison: light, middle, dark."""


def solar_absorptance(colour: str) -> float:
    """Share of sunlight that a paint or plastic of this colour takes in.

    Parameters
    ----------
    colour : str
        One of the colours of `ABSORPTANCE` [1]

    Returns
    -------
    absorptance : float
        Solar absorptance [1]

    Examples
    --------
    >>> solar_absorptance("light grey")
    0.5
    """
    if colour not in ABSORPTANCE:
        raise ValueError(f"colour must be one of {list(ABSORPTANCE)}, got {colour!r}")
    return ABSORPTANCE[colour]
