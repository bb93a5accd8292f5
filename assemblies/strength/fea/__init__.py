"""Plane-stress finite elements for the rocker's plates: a cross-check of the hand formulas, needed by no
other room."""
