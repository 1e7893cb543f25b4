"""Order."""
