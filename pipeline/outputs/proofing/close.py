"""Pictures that look closer: the place a finding speaks of, ringed and magnified, and lettering drawn larger."""

from __future__ import annotations

from pipeline.core.model import Artwork
from pipeline.outputs.paper import drawing, look
from pipeline.outputs.paper.curves import number
from pipeline.outputs.paper.pen import Pen
from pipeline.outputs.proofing import words
from pipeline.outputs.proofing.entries import Spot

CIRCLE = 25.0  # across the magnified detail, mm on paper
LINE_HIGH = 17.0  # of the lettering beside it
PICTURE = CIRCLE + 4.5  # the whole picture with its note
FIELDS = 20.0  # widths of the measured place that the detail is across ...
LEAST, MOST = 2.5, 12.0  # ... but never less or more than this, mm on the blank
LEGIBLE = 2.5  # lettering drawn with smaller capitals than this is shown again, larger, mm on paper
LARGER_HIGH = 24.0


def window(spot: Spot) -> float:
    """How much of the blank the detail shows, mm across."""
    return min(MOST, max(LEAST, FIELDS * spot.measured))


def draw_spot(pen: Pen, artwork: Artwork, spot: Spot, x: float, y: float, width: float, point: float) -> None:
    """The lettering with a ring where the place is, and the place magnified in a circle at the right; foot on y."""
    across = window(spot)
    scale = CIRCLE / across
    middle_x, middle_y = x + width - CIRCLE / 2, y + PICTURE - CIRCLE / 2
    circle = _circle(middle_x, middle_y, CIRCLE / 2)
    pen.op(f"q {circle} W n {pen.fill(look.WHITE)} {circle} f")
    shift = f"{number(middle_x - spot.at[0] * scale)} {number(middle_y - spot.at[1] * scale)}"
    pen.op(f"{scale:.6f} 0 0 {scale:.6f} {shift} cm")
    look.pieces(pen, artwork, look.INK, point, near=(spot.at, across))
    pen.op("Q")
    ring = max(1.4, min(CIRCLE * 0.32, spot.measured * scale * 1.1))
    pen.op(f"{pen.stroke(look.STOP_EDGE, 0.5)} {_circle(middle_x, middle_y, ring)} S")
    pen.op(f"{pen.stroke(look.FIELD, 0.3)} {circle} S")
    times = words.MAGNIFIED.format(times=f"{scale:.0f}")
    pen.text(middle_x, y + 0.8, times, look.LABEL, "centre")

    box = drawing.box_of(drawing.artwork_path(artwork))
    room = width - CIRCLE - 8
    if box is None or room < 20:
        return
    small = min(1.0, room / (box[2] - box[0]), LINE_HIGH / (box[3] - box[1]))
    left = x - box[0] * small
    foot = y + PICTURE - CIRCLE / 2 - (box[1] + box[3]) / 2 * small
    pen.op(f"q {small:.6f} 0 0 {small:.6f} {number(left)} {number(foot)} cm")
    look.pieces(pen, artwork, look.INK, point)
    pen.op("Q")
    at_x, at_y = left + spot.at[0] * small, foot + spot.at[1] * small
    pen.op(f"{pen.stroke(look.STOP_EDGE, 0.5)} {_circle(at_x, at_y, 1.8)} S")


def ring(pen: Pen, spot: Spot, scale: float) -> None:
    """A ring on the plaque itself, in mm of the blank; 2.2 mm in radius on paper at any scale."""
    pen.op(f"{pen.stroke(look.ASK_EDGE, 0.45 / scale)} {_circle(*spot.at, 2.2 / scale)} S")


def _circle(x: float, y: float, r: float) -> str:
    k = r * 0.5522847498
    return " ".join(
        [
            f"{number(x + r)} {number(y)} m",
            *(
                " ".join(number(v) for v in c) + " c"
                for c in (
                    (x + r, y + k, x + k, y + r, x, y + r),
                    (x - k, y + r, x - r, y + k, x - r, y),
                    (x - r, y - k, x - k, y - r, x, y - r),
                    (x + k, y - r, x + r, y - k, x + r, y),
                )
            ),
            "h",
        ]
    )


# --- lettering that the plaque's own picture shows too small --------------------------------------------------------


def larger(artwork: Artwork, scale: float, room: float) -> float:
    """The scale at which to show the lettering again; 0 when the plaque's picture at `scale` is large enough."""
    caps = [line.cap_height for line in artwork.lines if line.rows and line.side == "front"]
    box = drawing.box_of(drawing.artwork_path(artwork)) if caps and min(caps) * scale < LEGIBLE else None
    if box is None:
        return 0.0
    fits = min(1.0, room / (box[2] - box[0]), LARGER_HIGH / (box[3] - box[1]))
    return fits if fits > 1.25 * scale else 0.0


def larger_depth(artwork: Artwork, at: float) -> float:
    """Height the lettering takes at that scale, with its note, mm."""
    box = drawing.box_of(drawing.artwork_path(artwork)) if at else None
    return (box[3] - box[1]) * at + look.LABEL.line + 4 if box else 0.0


def draw_larger(pen: Pen, artwork: Artwork, at: float, x: float, top: float, point: float) -> None:
    """The lettering at scale `at`, its note under it, from `top` down."""
    box = drawing.box_of(drawing.artwork_path(artwork))
    if box is None:
        return
    foot = top - 2 - (box[3] - box[1]) * at
    pen.op(f"q {at:.6f} 0 0 {at:.6f} {number(x - box[0] * at)} {number(foot - box[1] * at)} cm")
    look.pieces(pen, artwork, look.INK, point)
    pen.op("Q")
    said = words.LARGER if at == 1 else words.LARGER_REDUCED.format(percent=f"{at * 100:.0f}")
    pen.text(x, foot - look.LABEL.line, said, look.LABEL)
