"""Cutters and what they leave: limits, grooves, reach, the simulated cut."""
