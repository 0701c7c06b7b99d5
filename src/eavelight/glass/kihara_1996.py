"""Index-matching gel at 1.3 µm.

M. Kihara, S. Nagasawa, T. Tanifuji, "Return loss characteristics of optical fiber
connectors", J. Lightwave Technol. 14 (1996) 1986 (gel data from the abstract).
"""

GEL_INDEX_AT_20_C = 1.467
GEL_INDEX_SLOPE_PER_K = -2.9e-4
