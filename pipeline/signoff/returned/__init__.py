"""Returned."""
