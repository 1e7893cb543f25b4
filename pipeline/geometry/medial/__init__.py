"""Medial."""
