"""From text to outlines: typefaces, shaping, united curves in font units."""
