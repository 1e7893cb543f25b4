"""Shop sheet."""
