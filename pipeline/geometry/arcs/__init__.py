"""Arcs."""
