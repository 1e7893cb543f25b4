"""Similarity of two typefaces, from fonts or from a picture."""
