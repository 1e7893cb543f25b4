"""Vector."""
