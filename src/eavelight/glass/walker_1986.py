"""Spectral loss terms of doped silica fibre, wavelength in micrometres, dB/km.

S. S. Walker, "Rapid modeling and estimation of total spectral loss in optical fibers",
J. Lightwave Technol. 4 (1986) 1125 (terms recalled). The OH band is our own plain
shape around its known centre.
"""

INFRARED_DB_PER_KM = 7.81e11
INFRARED_UM = 48.48
ULTRAVIOLET_DB_PER_KM = 1.542
ULTRAVIOLET_UM = 4.63
OH_CENTRE_NM = 1383.0
OH_WIDTH_NM = 15.0
