"""Reference step-index fibre and elasto-optic factor for bend loss.

R. T. Schermer, J. H. Cole, "Improved Bend Loss Formula Verified for Optical Fiber by
Simulation and Experiment", IEEE J. Quantum Electron. 43 (2007) 899, figure 7.
"""

CORE_RADIUS_UM = 4.1
NUMERICAL_APERTURE = 0.117
ELASTO_OPTIC_FACTOR = 1.28
