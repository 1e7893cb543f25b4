"""Kinds of finding: stroke.*, land.*, groove.* and read.*."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Kind, Severity

_THIN = (
    ways.LARGER,
    ways.BETWEEN,
    ways.COMPENSATE,
    ways.SAND_LESS,
    ways.BIT,
    ways.BIT_SANDED,
    ways.CUTTER,
    ways.STROKE_LIMIT,
)
_WIDE = (
    ways.BIT_DEEP,
    ways.BIT_WIDE,
    ways.SMALLER,
    ways.SMALLER_FROM,
    ways.LIGHTER_FACE,
    ways.GROW_LESS,
    ways.CLEARED_FLOOR,
)

STROKE_TOO_THIN = Kind(
    code="stroke.too-thin",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: the narrowest stroke is {measured} wide, in “{glyph}” at x {x:mm}, y {y:mm} ({shape}); "
        "{limit} is the minimum ({source}){also}{sizes}"
    ),
    why=(
        "A cutter wider than a stroke cannot pass it: the hairline is left out or cut too wide, and what lies beyond "
        "it is lost. A V-bit would have to run shallower than its flat tip allows."
    ),
    remedy="choose a typeface whose thinnest strokes are {heavier:finer-up} ({percent} %) heavier (`plaques faces` "
    "ranks "
    "them)",
    addressed="maker",
    ways=_THIN,
    source=(
        "[limits] stroke in order.toml; without it the cutter: tip + 2 × shallowest groove × tan(A/2) of a V-bit, "
        "otherwise the width it leaves anyway"
    ),
    design="too fine",
)
STROKE_THIN_AFTER_SANDING = Kind(
    code="stroke.thin-after-sanding",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: after sanding off {sanded:mm} the narrowest stroke is {measured} wide, in “{glyph}” at "
        "x {x:mm}, y {y:mm} ({shape}); it is cut {cut:mm} wide and loses {loss:mm}; {limit} is the minimum "
        "({source}){also}{sizes}"
    ),
    why=(
        "A V-groove gets narrower the more is taken off its face: by 2 s tan(A/2) for s taken off and a bit of angle "
        "A. What counts is the stroke that the client sees."
    ),
    remedy="choose a typeface whose thinnest strokes are {heavier:finer-up} ({percent} %) heavier (`plaques faces` "
    "ranks "
    "them)",
    addressed="maker",
    ways=_THIN,
    source="the same limit as stroke.too-thin, and [finish] sanded_off in order.toml",
    design="too fine once sanded",
)
STROKE_WIDER_THAN_CUTTER = Kind(
    code="stroke.wider-than-cutter",
    severity=Severity.ASK,
    message=(
        "line {line} “{text}”: strokes are up to {measured} wide, in “{glyph}” at x {x:mm}, y {y:mm}; one pass of the "
        "bit reaches {limit} ({source}), so that {area:.1f} mm² cannot be cut as one groove{also}{sizes}"
    ),
    why=(
        "Where a stroke is wider than the bit, a run along its middle leaves its flanks standing, also when the middle "
        "is cleared first. A program that runs along the outlines has to be told what is to become of the middle."
    ),
    remedy="",
    ways=(*_WIDE, ways.FLAT_FLOOR),
    source="the diameter of the bit, or what `reach` lets it use",
    design="wider than one pass of the bit",
)
GROOVE_WIDER_THAN_CUTTER = Kind(
    code="groove.wider-than-cutter",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: strokes are up to {measured} wide, in “{glyph}” at x {x:mm}, y {y:mm}; a groove of this "
        "bit is {limit} wide at most ({source}), so that {area:.1f} mm² would be cut wrongly{also}{sizes}"
    ),
    why=(
        "[files] grooves = true asks for the bit's own way. Where a stroke is wider than the bit, that way leaves its "
        "flanks standing, also when the middle is cleared first."
    ),
    remedy="",
    ways=_WIDE,
    source="the diameter of the bit, or what `reach` lets it use",
    stops="plaque",
    design="too wide for the bit",
)
STROKE_CORNER_LEFT = Kind(
    code="stroke.corner-left",
    severity=Severity.NOTE,
    message=(
        "line {line} “{text}”: a round cutter of {limit} reaches {reached:.2f} of {whole:.2f} mm² and leaves "
        "{area:.2f} mm² in corners, which become round with a radius of {radius:mm}; the farthest is {measured} from "
        "what it reaches, in “{glyph}” at x {x:mm}, y {y:mm}"
    ),
    why="A round cutter cannot cut into a corner: it leaves r (1 / sin a − 1) of it, a being half the corner's angle.",
    remedy="nothing, if round corners will do; a thinner cutter leaves less in them, a V-bit nothing",
    addressed="nobody",
    source="the radius of the cutter; shown from 0.1 mm on, common practice, no source",
)
LAND_TOO_THIN = Kind(
    code="land.too-thin",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: only {measured} of material is left {where} at x {x:mm}, y {y:mm}; {limit} is the "
        "minimum "
        "({source}){also}"
    ),
    why="Too thin a wall between two cuts breaks out while it is cut, or later when it is cleaned or knocked.",
    remedy="",
    ways=(ways.TRACKING, ways.LARGER, ways.BETWEEN, ways.OPEN_FACE, ways.ROWS_APART, ways.MOVE_AWAY),
    source="[limits] land in order.toml; without it the larger of the tip and 0.2 mm: common practice, no source",
    design="with too little land",
)
GROOVE_TOO_DEEP = Kind(
    code="groove.too-deep",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: the widest stroke, {width:mm} in “{glyph}” at x {x:mm}, y {y:mm}, needs a groove "
        "{measured} deep; {limit} is the most ({source}){sizes}"
    ),
    why="A V-groove gets deeper as its stroke gets wider: it may reach through the stock or up the bit's shank.",
    remedy="",
    ways=_WIDE,
    source="the smallest of `deepest` in [limits], what the bit allows, and the thickness of the stock",
    design="too deep",
)
GROOVE_FLAT_FLOOR = Kind(
    code="groove.flat-floor",
    severity=Severity.NOTE,
    message=(
        "line {line} “{text}”: strokes wider than {limit} get a flat floor {depth:mm} deep (up to {measured} wide, in "
        "“{glyph}” at x {x:mm}, y {y:mm}): {cutter} runs along their walls, {mill} clears {area:.1f} mm² between them"
    ),
    why="A V-groove as wide as the stroke would go deeper than it may; cleared flat, it keeps its walls.",
    remedy="nothing; the file has a layer of its own for the flat cutter",
    addressed="nobody",
    client="The widest strokes of “{text}” will have a flat floor.",
    source="`deepest` of [limits], or what the bit allows, and the flat cutter of [clearing]",
)
GROOVE_TOO_SHALLOW = Kind(
    code="groove.too-shallow",
    severity=Severity.ASK,
    message=(
        "line {line} “{text}”: the shallowest groove is {measured} deep when finished, in “{glyph}” at x {x:mm}, "
        "y {y:mm}; {limit} is the minimum that shows ({source}){also}{sizes}"
    ),
    why="A groove this shallow can be felt more than seen, and the next sanding or varnish takes it away.",
    remedy="choose a typeface whose thinnest strokes are {heavier:finer-up} ({percent} %) heavier (`plaques faces` "
    "ranks "
    "them)",
    addressed="maker",
    ways=(*_THIN, ways.SHALLOW_LIMIT),
    source="[limits] shallowest in order.toml; without it 0.1 mm: common practice, no source",
    design="too shallow to show",
)
GROOVE_OFF_LETTER = Kind(
    code="groove.off-letter",
    severity=Severity.STOP,
    message=(
        "line {line} “{text}”: swept along its grooves, the bit does not leave the letter as designed: in “{glyph}” at "
        "x {x:mm}, y {y:mm} it {how}; {most} is the most"
    ),
    why=(
        "With [files] grooves = true the machine runs the very lines of the file. They are swept before they are "
        "written; anything cut beyond a letter, or left of it where the tip fits, would show on the piece."
    ),
    remedy=(
        "write a finer `tolerance` into [files]; if that does not help, write grooves = false, so that the file has "
        "outlines, and report this letter and its typeface as a fault of the tool"
    ),
    edits=((Edit(table="files", key="grooves", value=False),),),
    addressed="maker",
    source=(
        "0.01 mm, or [files] tolerance where that is coarser; 1 % of the area the flat tip fits in: common practice, "
        "no source"
    ),
    stops="plaque",
    design="cut off the letter",
)
GROOVE_ENDS_LEFT = Kind(
    code="groove.ends-left",
    severity=Severity.NOTE,
    message=(
        "line {line} “{text}”: the flat tip of {cutter}, {tip:mm} wide, does not get into the most acute ends of the "
        "letters: {measured} of one stays in “{glyph}” at x {x:mm}, y {y:mm}, {area:.2f} mm² of all together"
    ),
    why="A pointed end is cut only as far as it is wider than the tip; beyond, the letter ends a little early.",
    remedy="nothing, if that does not matter at this size; otherwise take a bit with a finer tip",
    addressed="nobody",
    source="the tip of the cutter; shown from 0.1 mm on, common practice, no source",
)
READ_TOO_SMALL = Kind(
    code="read.too-small",
    severity=Severity.ASK,
    message="line {line} “{text}”: letters of {measured} are read from {distance:mm}; {limit} are wanted ({rule})",
    why="The order says from where the lettering is to be read. Smaller letters are a strain to read, or illegible.",
    remedy="move the plaque nearer to its readers",
    addressed="maker",
    ways=(ways.LARGER, ways.BETWEEN),
    source=(
        "2010 ADA Standards for Accessible Design, table 703.5.5, inch column (visual characters; exceptions such as "
        "703.1's are not judged here), and 20/20 acuity, 5 minutes of arc a letter. This is no statement of compliance"
    ),
    design="too small to be read from there",
)
READ_STROKE_LIGHT = Kind(
    code="read.stroke-light",
    severity=Severity.ASK,
    message="line {line} “{text}”: {what} of {measured} is read from {distance:mm}; {limit} {wanted} ({rule})",
    why="Strokes that are too fine vanish at a distance although the letters are tall enough; too heavy ones close up.",
    remedy="choose a typeface of another weight",
    addressed="maker",
    ways=(ways.LARGER, ways.BETWEEN),
    source=(
        "2010 ADA Standards for Accessible Design, 703.5.7: stroke of the capital I 10 to 30 % of its height; 20/20 "
        "acuity, 1 minute of arc a stroke. This is no statement of compliance"
    ),
    design="of strokes too light or too heavy to be read from there",
)

KINDS: tuple[Kind, ...] = (
    STROKE_TOO_THIN,
    STROKE_THIN_AFTER_SANDING,
    STROKE_WIDER_THAN_CUTTER,
    GROOVE_WIDER_THAN_CUTTER,
    STROKE_CORNER_LEFT,
    LAND_TOO_THIN,
    GROOVE_TOO_DEEP,
    GROOVE_FLAT_FLOOR,
    GROOVE_TOO_SHALLOW,
    GROOVE_OFF_LETTER,
    GROOVE_ENDS_LEFT,
    READ_TOO_SMALL,
    READ_STROKE_LIGHT,
)
