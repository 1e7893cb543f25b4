"""Pictures that look closer: the place a finding speaks of, ringed and magnified, and lettering drawn larger."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.language.texts import Texts
from pipeline.core.model import Artwork, Blank
from pipeline.outputs.pdf import packed_lettering, styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.curve_operators import trace_circle
from pipeline.outputs.proof import type_sizes
from pipeline.outputs.proof.proof_entries import ProofPlace

CIRCLE = 25.0  # diameter of the magnified detail, mm on paper
APART = 4.0  # between details; to the lettering it is twice as far
LINE_HIGH = CIRCLE  # height of the lettering beside it
PICTURE = CIRCLE + 10.5  # the whole picture with its two captions
FIELDS = 20.0  # diameter of the detail in widths of the measured place ...
LEAST, MOST = 2.5, 12.0  # ... within these limits, mm on the blank
LEGIBLE = 1.7  # lettering with capitals drawn smaller than this is shown again, larger, mm on paper
READABLE = 2.5  # height of capitals as legible as the text beside it (10 points), mm on paper
LARGER_HIGH = 24.0


def choose_detail_window(spot: ProofPlace) -> float:
    """Return how much of the blank the detail shows, mm across."""
    return min(MOST, max(LEAST, FIELDS * spot.measured))


def measure_details(spots: Sequence[ProofPlace], room: float) -> float:
    """Width of the picture of these places where there is so much room, mm."""
    return min(room, 130.0 + (len(spots) - 1) * (CIRCLE + APART))


def draw_spots(
    pen: PaperCanvas,
    texts: Texts,
    artwork: Artwork,
    blank: Blank,
    spots: Sequence[ProofPlace],
    x: float,
    y: float,
    width: float,
    point: float,
) -> None:
    """The lettering with a ring at each place, and each place magnified in a circle to the right of it; foot on y."""
    for n, spot in enumerate(spots):
        middle = x + width - CIRCLE / 2 - (len(spots) - 1 - n) * (CIRCLE + APART)
        _draw_detail(pen, artwork, blank, spot, middle, y + PICTURE - CIRCLE / 2, point)
        pen.draw_text(middle, y + 0.8 + type_sizes.QUIET.line, spot.label, type_sizes.QUIET, "centre")
        times = texts.render_text("proof.magnified", times=CIRCLE / choose_detail_window(spot))
        pen.draw_text(middle, y + 0.8, times, type_sizes.QUIET, "centre")

    box = packed_lettering.compute_box_round(artwork.list_pieces())
    room = width - len(spots) * (CIRCLE + APART) - 2 * APART
    if box is None or room < 20:
        return
    small = min(1.0, room / (box[2] - box[0]), LINE_HIGH / (box[3] - box[1]))
    left = x - box[0] * small
    foot = y + PICTURE - CIRCLE / 2 - (box[1] + box[3]) / 2 * small
    with pen.save_state(build_move(left, foot, small)):
        styles.draw_pieces(pen, artwork, styles.INK, point)
    for spot in spots:
        at_x, at_y = left + spot.at[0] * small, foot + spot.at[1] * small
        pen.draw(trace_circle(at_x, at_y, 1.4), edge=styles.STOP_EDGE, line=0.4)


def _draw_detail(
    pen: PaperCanvas, artwork: Artwork, blank: Blank, spot: ProofPlace, middle_x: float, middle_y: float, point: float
) -> None:
    """The surroundings of a place in a circle, a ring round what was measured."""
    behind = styles.get_blank_surroundings(pen, blank)
    across = choose_detail_window(spot)
    scale = CIRCLE / across
    circle = trace_circle(middle_x, middle_y, CIRCLE / 2)
    with pen.save_state():
        pen.clip(circle)
        pen.draw(circle, fill=styles.WHITE)
        pen.canvas.transform(*build_move(middle_x - spot.at[0] * scale, middle_y - spot.at[1] * scale, scale))
        pen.draw_form(behind)
        styles.draw_pieces(pen, artwork, styles.INK, point, near=(spot.at, across))
    round_it = max(1.4, min(CIRCLE * 0.32, spot.measured * scale * 1.1))
    pen.draw(trace_circle(middle_x, middle_y, round_it), edge=styles.STOP_EDGE, line=0.4)
    pen.draw(circle, edge=styles.FIELD, line=0.3)


def draw_ring(pen: PaperCanvas, spot: ProofPlace, scale: float) -> None:
    """A ring on the plaque itself, in mm of the blank; 2.2 mm in radius on paper at any scale."""
    pen.draw(trace_circle(*spot.at, 2.2 / scale), edge=styles.ASK_EDGE, line=0.45 / scale)


# --- lettering that the plaque's own picture shows too small --------------------------------------------------------


def list_cap_heights(artwork: Artwork) -> list[float]:
    """List those of the lines on the front, mm."""
    return [line.cap_height for line in artwork.lines if line.rows and line.side == "front"]


def find_enlarged_scale(artwork: Artwork, scale: float, room: float) -> float:
    """The scale at which to show the lettering again; 0 when the plaque's picture at `scale` is large enough."""
    caps = list_cap_heights(artwork)
    box = packed_lettering.compute_box_round(artwork.list_pieces()) if caps and min(caps) * scale < LEGIBLE else None
    if box is None:
        return 0.0
    fits = min(1.0, room / (box[2] - box[0]), LARGER_HIGH / (box[3] - box[1]))
    return fits if fits > 1.25 * scale else 0.0


def measure_enlarged(artwork: Artwork, at: float) -> float:
    """Height the lettering takes at that scale, with its note, mm."""
    box = packed_lettering.compute_box_round(artwork.list_pieces()) if at else None
    return (box[3] - box[1]) * at + type_sizes.QUIET.line + 4 if box else 0.0


def draw_enlarged(
    pen: PaperCanvas, texts: Texts, artwork: Artwork, at: float, x: float, top: float, point: float
) -> None:
    """The lettering at scale `at`, its note under it, from `top` down."""
    box = packed_lettering.compute_box_round(artwork.list_pieces())
    if box is None:
        return
    foot = top - 2 - (box[3] - box[1]) * at
    with pen.save_state(build_move(x - box[0] * at, foot - box[1] * at, at)):
        styles.draw_pieces(pen, artwork, styles.INK, point)
    said = texts.render_text("proof.larger") if at == 1 else texts.render_text("proof.larger.reduced", percent=at * 100)
    pen.draw_text(x, foot - type_sizes.QUIET.line, said, type_sizes.QUIET)
