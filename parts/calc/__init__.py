"""Calculations on a section or a joint, one a function: equation, units, validity, source."""
