"""Single line."""
