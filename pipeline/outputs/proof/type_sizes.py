"""The text styles of the proof: nothing below 10 points, so that it can be read on a telephone and by everybody."""

from __future__ import annotations

from pipeline.outputs.pdf.fonts import SERIF
from pipeline.outputs.pdf.styles import ACCENT, GREY, INK
from pipeline.outputs.pdf.text_style import TextStyle

TITLE = TextStyle(28, INK, SERIF, 1.15)
LONG_TITLE = TextStyle(20, INK, SERIF, 1.15)
HEADING = TextStyle(21, INK, SERIF, 1.25)
SUBHEAD = TextStyle(15, INK, SERIF)
FIGURE = TextStyle(30, ACCENT, SERIF, 1.0)
NUMBER = TextStyle(16, ACCENT)
NAME = TextStyle(16, INK, leading=1.3)
LONG_NAME = TextStyle(12.5, INK, leading=1.3)
BODY = TextStyle(11, INK)
CHOICE = TextStyle(12.5, INK)
TICKED = TextStyle(10.5, INK)
NOTE = TextStyle(10.5, ACCENT)
QUIET = TextStyle(10, GREY)
"""The smallest: what is there to be looked up, not read."""
