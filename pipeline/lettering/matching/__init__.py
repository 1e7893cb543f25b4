"""Matching."""
