"""Use cases: the only place that wires the rooms together."""
