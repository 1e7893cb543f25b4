"""Curves to arcs: fitting within a tolerance, and how far the fit deviates."""
