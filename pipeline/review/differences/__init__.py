"""Verdicts on differences, how they moved, and what several tests of one limb say together."""
