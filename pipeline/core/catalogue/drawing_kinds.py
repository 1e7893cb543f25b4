"""Kinds of finding: drawing.*, what happened to a blank's drawing while it was read. All concern the whole order."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Kind, Severity

IGNORED = Kind(
    code="drawing.ignored",
    severity=Severity.NOTE,
    message="ignored in the drawing: {what}",
    why="Only the outlines on the layers that the order names make the blank. What is ignored is not cut.",
    remedy="nothing, unless one of these belongs to the blank: then put it on its layer as lines, arcs or curves",
    addressed="nobody",
    source="the kinds of entity a contour can be made of",
)
NOT_CUT = Kind(
    code="drawing.not-cut",
    severity=Severity.ASK,
    message="{count} inside the edge on layer {layer} ({width:mm} × {height:mm} about {at}): they are not cut",
    why=(
        "A crest or a hole on a layer that the order doesn't name is in no cut file, and is missed on the finished "
        "piece."
    ),
    remedy=(
        "put holes on the edge's layer, and whatever only explains the drawing outside the edge or into another file"
    ),
    ways=(ways.ARTWORK_LAYER,),
    addressed="maker",
    source="the layers that [blank] names",
)
GAP_MENDED = Kind(
    code="drawing.gap-mended",
    severity=Severity.NOTE,
    message="{places} closed on layer {layer}, the widest {measured}, at {at} in the drawing",
    why="Ends that nearly meet are joined, as the drawing must mean; the outline moves by at most half the gap.",
    remedy="nothing; close the outline in the drawing if even that matters",
    addressed="nobody",
    source="`gap` of the blank in order.toml: ends this close are joined",
)
REPEATED = Kind(
    code="drawing.repeated",
    severity=Severity.NOTE,
    message="{count} drawn twice or on top of each other on layer {layer}; taken once",
    why="A contour drawn twice would be cut twice, the second time with nothing to hold the piece.",
    remedy="nothing; remove the copies from the drawing",
    addressed="nobody",
    source="common practice, no source",
)
FLATTENED = Kind(
    code="drawing.flattened",
    severity=Severity.NOTE,
    message="the drawing has heights ({low:mm} to {high:mm}); it is taken as seen from above",
    why="A blank is flat: only its outline counts here.",
    remedy="nothing, if the outline on the proof is right",
    addressed="nobody",
    source="every contour lies in a plane parallel to the drawing's own",
)
TILTED = Kind(
    code="drawing.tilted",
    severity=Severity.ASK,
    message="the drawing lies in an upright or tilted plane; it is taken as seen from {side}",
    why="Seen from the other side the blank would be its mirror image.",
    remedy="look at the outline on the proof; if it is mirrored, turn the drawing into the ground plane and run again",
    addressed="maker",
    source="the plane that all contours share",
)
REPAIRED = Kind(
    code="drawing.repaired",
    severity=Severity.NOTE,
    message="the drawing file is damaged and was read as far as possible: {count}, the first: {first}",
    why="A damaged file may have lost a contour.",
    remedy="compare the outline on the proof with the drawing, or save the drawing again",
    addressed="maker",
    source="the reader's own list of repairs",
)
WIDTH_IGNORED = Kind(
    code="drawing.width-ignored",
    severity=Severity.NOTE,
    message="{count} on layer {layer} drawn with a width; the middle of the line is taken as the contour",
    why="A drawn width is how thick the line looks, not where the piece ends.",
    remedy="nothing, if the contour is meant to be the middle of the line",
    addressed="nobody",
    source="published DXF reference: a polyline's vertices are its middle",
)
LAYER_HIDDEN = Kind(
    code="drawing.layer-hidden",
    severity=Severity.NOTE,
    message="layer {layer} is switched off or frozen in the drawing; it is used all the same",
    why="The order names the layer, but whoever drew it does not see it.",
    remedy="nothing, if the layer is meant",
    addressed="nobody",
    source="the drawing's layer table",
)
ONE_LAYER = Kind(
    code="drawing.one-layer",
    severity=Severity.NOTE,
    message="the drawing has one layer, “{layer}”: its largest loop is the edge, {width:mm} × {height:mm}; {holes}",
    why="Nothing in the drawing tells its loops apart, so the largest is taken for the outline of the blank.",
    remedy="nothing, if the outline on the proof is right; otherwise draw zone and pockets on layers of their own",
    addressed="maker",
    source="common practice, no source",
)
NO_ZONE = Kind(
    code="drawing.no-zone",
    severity=Severity.NOTE,
    message="the drawing has no layer “{layer}”: lettering may go anywhere inside the edge",
    why="Lettering keeps the margin from the edge, and stays off holes, keep-outs and pockets.",
    remedy="nothing, if that is right; otherwise draw the zone on a layer of that name",
    addressed="nobody",
    source="`zone` of [blank] layers in order.toml",
)
ZONE_UNSURE = Kind(
    code="drawing.zone-unsure",
    severity=Severity.ASK,
    message="the drawing has no layer “{layer}”, so lettering may go anywhere inside; is its zone on {others}?",
    why="The drawing has contours that the order does not name. One of them may mark where lettering goes.",
    remedy="name the zone's layer in [blank] layers; the edge's own, “{edge}”, says anywhere inside",
    addressed="maker",
    source="`zone` of [blank] layers in order.toml",
)
ODD_SIZE = Kind(
    code="drawing.odd-size",
    severity=Severity.ASK,
    message="the blank measures {width:mm} × {height:mm}: the drawing says its unit is {unit_name}",
    why="If the unit of the drawing is wrong, everything else is wrong by the same factor.",
    remedy="check one known length; save the drawing with the right unit",
    addressed="maker",
    source="common practice, no source: plaques are between {least:mm} and {most:mm}",
)
POCKET_OUTSIDE = Kind(
    code="drawing.pocket-outside",
    severity=Severity.ASK,
    message="a pocket reaches {measured} outside the edge, at {at} from the lower left corner",
    why="Resin poured into a pocket that is open at the side runs out.",
    remedy="keep the pocket inside the edge, or dam the side before the pour",
    addressed="maker",
    source="the edge of the drawing",
)

KINDS: tuple[Kind, ...] = (
    IGNORED,
    NOT_CUT,
    GAP_MENDED,
    REPEATED,
    FLATTENED,
    TILTED,
    REPAIRED,
    WIDTH_IGNORED,
    LAYER_HIDDEN,
    ONE_LAYER,
    NO_ZONE,
    ZONE_UNSURE,
    ODD_SIZE,
    POCKET_OUTSIDE,
)
