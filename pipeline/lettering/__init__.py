"""From text to outlines: faces, shaping, united curves in font units."""
