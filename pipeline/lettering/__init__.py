"""Lettering, from text to outlines: typefaces, shaping, united curves in font units."""
