"""Simulators and the invented crew; analysis never imports this room."""
