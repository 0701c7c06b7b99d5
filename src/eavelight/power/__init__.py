"""Copper feed, battery and run time: numbers in, numbers out."""
