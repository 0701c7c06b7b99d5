"""Strength and fatigue of proof-tested silica fibre; every value recalled.

Y. Mitsunaga, Y. Katsuyama, H. Kobayashi, Y. Ishida, "Failure prediction for long length
optical fiber based on proof testing", J. Appl. Phys. 53 (1982) 4847; IEC TR 62048.
"""

STRESS_EXPONENT = 20.0
FLAW_SLOPE = 3.0
PROOF_STRESS_GPA = 0.69
PROOF_TIME_S = 1.0
BREAKS_PER_KM = 0.01
MODULUS_GPA = 72.0
CLADDING_RADIUS_UM = 62.5
EXPONENT_RANGE = (18.0, 22.0)
FLAW_SLOPE_RANGE = (2.0, 10.0)
