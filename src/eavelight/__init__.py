"""From the evidence at the wall: ready or not, why, what next, and the proof."""

__version__ = "0.1.0"
__all__ = ["__version__"]
