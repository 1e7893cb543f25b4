"""Recipients."""
