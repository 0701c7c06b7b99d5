"""Traces: records of optical time domain reflectometers, and what they show."""
