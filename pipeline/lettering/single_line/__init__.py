"""Single-line typefaces: strokes an engraving point follows once."""
