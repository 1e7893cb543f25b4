"""SVG and PDF exports of the cut curves, read back and verified."""
