"""Converts clients' drawings (crests, badges, borders) to curves."""
