"""The six steps of a first order: `plaques start` prints them, and the README has them word for word."""

from __future__ import annotations

import textwrap

FIRST_STEPS = (
    "Go into the order folder and open `order.toml` in a text editor. Correct every line marked “check this”: the "
    "blank, the cutter, the typeface, the sizes.",
    "Type `plaques check .` and read what it found. The worst comes first, and each finding says what to do. Ask the "
    "client what only the client can know.",
    "Type `plaques run .` and look at every page of `out/proof.pdf`. Send it to the client to sign.",
    "When it comes back, type `plaques sign . returned.pdf`. Make the changes the client asked for in the list, and go "
    "back to step 3.",
    "Type `plaques release .` and cut only what is in `out/released`: what isn't signed, or has changed since, isn't "
    "there. Boards and jig loads are in it too. Make the first cut on an offcut.",
    "Type `plaques mark . cut --rows 2-40` for what has been cut, and likewise `delivered` or `spoilt`; or tick the "
    "cut list and type `plaques mark . cut-list.xlsx`. Then release again for what is still to be made: a spoilt piece "
    "comes back without the client being asked.",
)
"""The steps, in order."""

WIDTH = 96


def number_steps() -> str:
    """Return the steps as numbered paragraphs for the terminal."""
    return "\n".join(
        textwrap.fill(step, WIDTH, initial_indent=f"  {number}. ", subsequent_indent="     ", break_on_hyphens=False)
        for number, step in enumerate(FIRST_STEPS, 1)
    )
