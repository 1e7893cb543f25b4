"""Single-line typefaces: strokes that an engraving point follows once."""
