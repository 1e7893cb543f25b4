"""How alike two typefaces are, from fonts or from a picture."""
