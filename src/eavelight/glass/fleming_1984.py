"""Sellmeier terms of silica and germania glass, mixed by mole fraction.

Silica: I. H. Malitson, J. Opt. Soc. Am. 55 (1965) 1205. Germania and the mixing rule:
J. W. Fleming, Appl. Opt. 23 (1984) 4486. Strengths, and resonances in micrometres.
"""

SILICA_STRENGTH = (0.6961663, 0.4079426, 0.8974794)
SILICA_RESONANCE_UM = (0.0684043, 0.1162414, 9.896161)
GERMANIA_STRENGTH = (0.80686642, 0.71815848, 0.85416831)
GERMANIA_RESONANCE_UM = (0.068972606, 0.15396605, 11.841931)
