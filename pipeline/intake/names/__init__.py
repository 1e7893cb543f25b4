"""Names."""
