"""Conductor materials: conductivity against the annealed copper standard.

The reference is IEC 60028 (1/58 Ω mm²/m at 20 °C, 0.00393 per kelvin). Clad wires are
sold by conductivity class; their spread is part of the value.
"""

from dataclasses import dataclass

ANNEALED_COPPER_OHM_MM2_PER_M = 1.0 / 58.0
"""IEC 60028, resistivity at 20 °C of 100 % IACS [Ω mm²/m]."""

REFERENCE_C = 20.0
"""Temperature to which the standard refers [°C]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """What a conductor is made of.

    `conductivity` is a fraction of annealed copper at 20 °C, `coefficient_per_k` the
    relative rise of resistance per kelvin at 20 °C, `relative_u` the standard
    uncertainty of the resistance of a wire of stated size.
    """

    conductivity: float
    coefficient_per_k: float
    relative_u: float


COPPER = Material(conductivity=1.0, coefficient_per_k=0.00393, relative_u=0.01)
"""IEC 60028; drawn wire of stated gauge is within about 2 % (diameter 1 %)."""

COPPER_CLAD_ALUMINIUM = Material(
    conductivity=0.62, coefficient_per_k=0.00400, relative_u=0.02
)
"""About 62 % IACS (15 % copper by volume); recalled."""

COPPER_CLAD_STEEL = Material(
    conductivity=0.35, coefficient_per_k=0.00378, relative_u=0.08
)
"""Between the 30 and 40 % IACS classes of drop wire, rectangular; recalled."""

MATERIALS = {
    "copper": COPPER,
    "copper-clad steel": COPPER_CLAD_STEEL,
    "copper-clad aluminium": COPPER_CLAD_ALUMINIUM,
}
"""By the words of a plan."""
