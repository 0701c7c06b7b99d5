"""Fibre, joints, bends, life, slack and colours: numbers in, numbers out."""
