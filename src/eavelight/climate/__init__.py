"""Sun on the wall, heat balance of the box, local extremes, dew, entry and cover.

Every temperature is an estimate for a clear sky: ±5 K unless measured. Nothing here
states compliance with a class or a code.
"""
