"""Proof."""
