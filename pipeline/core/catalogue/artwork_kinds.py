"""Kinds of finding: artwork.*, a client's drawings: how they were read, whether they fit, and what a cutter makes of
them. What concerns a drawing that is the same on every plaque is told once, of the order."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Kind, Severity

_OF = "artwork {number} “{file}”: "

MISSING = Kind(
    code="artwork.missing",
    severity=Severity.STOP,
    message="artwork {number}: “{file}”, asked for by {source}, {what}{near}",
    why="Without its badge the piece is not what was ordered; another badge is never used instead.",
    remedy="put the drawing into the folder under this name, or correct the cell; an empty cell leaves the badge out",
    addressed="maker",
    client="The drawing “{file}” is missing. Please send it, or name the right one.",
    source="the files in the order folder",
)
CANNOT_CUT = Kind(
    code="artwork.cannot-cut",
    severity=Severity.STOP,
    message=_OF + "{what}{place}",
    why="A part of a crest left out without a word would be missing on the finished piece, beside the client's name.",
    remedy="have it redrawn as plain filled shapes only, and save it under the same name",
    addressed="maker",
    client=(
        "Your drawing “{file}” cannot be cut as it is. Please send it as plain filled shapes, without text or pictures."
    ),
    source="the elements of SVG 1.1 and DXF that enclose an area or are a line",
)
SPECKS = Kind(
    code="artwork.specks",
    severity=Severity.NOTE,
    message=_OF + "{count:speck|specks} smaller than a square of {limit} left out{place}",
    why="Dust from tracing or scanning: too small to be cut or seen at this size.",
    remedy="nothing, or make the artwork larger if they belong to it",
    addressed="nobody",
    source="0.1 mm across, about what an eye tells apart at reading distance (1 minute of arc at 300 mm is 0.09 mm)",
)
CHANGED = Kind(
    code="artwork.read-otherwise",
    severity=Severity.NOTE,
    message=_OF + "{what}{place}",
    why="A cut has only one colour: whatever a drawing has besides areas and lines is lost.",
    remedy="compare the proof with the drawing",
    addressed="maker",
    source="SVG 1.1, the published DXF reference",
)
COLOURS = Kind(
    code="artwork.colours-merge",
    severity=Severity.ASK,
    message=_OF + "{what} on areas that are cut, where the cut does not show it{place}",
    why=(
        "All colours are cut alike, but white, which is left standing: a gold lion on a red shield becomes a plain "
        "shield."
    ),
    remedy="draw in black what is to be cut and in white what is to stay; if it is meant like this, compare the proof",
    addressed="maker",
    source="the order in which the drawing paints",
)
MADE_TO_FIT = Kind(
    code="artwork.made-to-fit",
    severity=Severity.NOTE,
    message=_OF + "{width:mm} × {height:mm}, as large as zone {zone} allows; {drawn}",
    why="The order doesn't say how large it should be.",
    remedy="nothing, if that is the size wanted; otherwise write width or height",
    addressed="nobody",
    source="the zone less its margin",
)
NO_SIZE = Kind(
    code="artwork.no-size",
    severity=Severity.STOP,
    message=_OF + "{what}",
    why="Neither the drawing nor the order gives a size at which all of it can be cut.",
    remedy="write width or height of the artwork, or give its zone more room",
    addressed="maker",
    design="with artwork of no size",
    source="the drawing's own unit; `width`, `height` and `zone` of the artwork in order.toml",
)
DOES_NOT_FIT = Kind(
    code="artwork.does-not-fit",
    severity=Severity.STOP,
    message=_OF + "{width:mm} × {height:mm} at x {x:mm}, y {y:mm} reaches {measured} beyond {room}",
    why="It would be cut into the margin, a hole or the air.",
    remedy="move it (`at`), or give it a larger zone",
    addressed="maker",
    ways=(ways.ARTWORK_SMALLER,),
    design="with artwork that does not fit",
    source="the zone less its margin, or the edge of the blank",
)
TOO_FINE = Kind(
    code="artwork.stroke-too-thin",
    severity=Severity.STOP,
    message=(
        _OF + "the narrowest stroke is {measured} wide{sanded}, at x {x:mm}, y {y:mm} ({shape}); "
        "{limit} is the minimum ({source})"
    ),
    why="A cutter wider than a stroke cannot pass it: fine lines of a crest are lost, or run together.",
    remedy=(
        "have the drawing simplified: strokes {heavier:finer-up} heavier would be enough at this size; hairlines that "
        "are meant as lines are followed once, with `cut` of the artwork"
    ),
    addressed="maker",
    ways=(ways.ARTWORK_LARGER, ways.ARTWORK_CUTTER),
    design="with artwork too fine",
    source="the same limit as stroke.too-thin and stroke.thin-after-sanding",
)
TOO_SHALLOW = Kind(
    code="artwork.groove-too-shallow",
    severity=Severity.ASK,
    message=(
        _OF + "the shallowest groove is {measured} deep when finished, at x {x:mm}, y {y:mm}; {limit} "
        "is the minimum that shows ({source})"
    ),
    why="A groove this shallow can be felt more than seen, and the next sanding or varnish takes it away.",
    remedy="have the drawing simplified: strokes {heavier:finer-up} heavier would be enough at this size",
    addressed="maker",
    ways=(ways.ARTWORK_LARGER,),
    source="[limits] shallowest in order.toml; without it 0.1 mm: common practice, no source",
)
TOO_WIDE = Kind(
    code="artwork.wider-than-cutter",
    severity=Severity.ASK,
    message=(
        _OF + "areas are up to {measured} wide, at x {x:mm}, y {y:mm}; one pass of the bit reaches {limit} ({source})"
    ),
    why=(
        "Where an area is wider than the bit, a run along its middle leaves its flanks standing. A program that runs "
        "along the outlines has to be told what is to become of the middle."
    ),
    remedy="have large areas drawn as outlines, take a wider bit, or clear them with a flat one",
    addressed="maker",
    ways=(ways.ARTWORK_SMALLER,),
    source="the diameter of the bit, or what `reach` lets it use",
)
GROOVES_TOO_WIDE = Kind(
    code="artwork.groove-too-wide",
    severity=Severity.STOP,
    message=(
        _OF + "areas are up to {measured} wide, at x {x:mm}, y {y:mm}; a groove of this bit is {limit} "
        "wide at most ({source})"
    ),
    why="[files] grooves = true asks for the bit's own way, which leaves the flanks of a wider area standing.",
    remedy="have large areas drawn as outlines, take a wider bit, or write grooves = false",
    edits=((Edit(table="files", key="grooves", value=False),),),
    addressed="maker",
    ways=(ways.ARTWORK_SMALLER,),
    design="with artwork too wide for the bit",
    source="the diameter of the bit, or what `reach` lets it use",
)
TOO_DEEP = Kind(
    code="artwork.groove-too-deep",
    severity=Severity.STOP,
    message=(
        _OF + "{what}, {width:mm} wide at x {x:mm}, y {y:mm}, needs a groove {measured} deep; {limit} "
        "is the most ({source})"
    ),
    why="A V-groove gets deeper as its stroke gets wider: it may reach through the stock or up the bit's shank.",
    remedy="have large areas drawn as outlines, or take a blunter bit",
    addressed="maker",
    ways=(ways.ARTWORK_SMALLER,),
    design="with artwork too deep",
    source="the smallest of `deepest` in [limits], what the bit allows, and the thickness of the stock",
)
GROOVES_OFF = Kind(
    code="artwork.groove-off",
    severity=Severity.STOP,
    message=(
        _OF + "swept along its grooves, the bit does not leave the drawing as designed: at x {x:mm}, "
        "y {y:mm} it {how}; {most} is the most"
    ),
    why="With [files] grooves = true the machine runs the very lines of the file. They are swept before.",
    remedy="write a finer `tolerance` into [files], or grooves = false, so that the file has outlines",
    edits=((Edit(table="files", key="grooves", value=False),),),
    addressed="maker",
    design="with artwork whose grooves are off",
    source="0.01 mm, or [files] tolerance where that is coarser; 1 % of the area the flat tip fits in",
)
CORNERS_LEFT = Kind(
    code="artwork.corner-left",
    severity=Severity.NOTE,
    message=(
        _OF + "a round cutter of {limit} leaves {area:.2f} of {whole:.2f} mm² in corners; the farthest "
        "is {measured} from what it reaches, at x {x:mm}, y {y:mm}"
    ),
    why="A round cutter cannot cut into a corner: it leaves r (1 / sin a − 1) of it, a being half the corner's angle.",
    remedy="nothing, if round corners will do; a thinner cutter leaves less in them, a V-bit nothing",
    addressed="nobody",
    source="the radius of the cutter; shown from 0.1 mm on, common practice, no source",
)
LAND_TOO_THIN = Kind(
    code="artwork.land-too-thin",
    severity=Severity.STOP,
    message=(
        _OF + "only {measured} of material is left {between} at x {x:mm}, y {y:mm}; {limit} is the minimum ({source})"
    ),
    why="Too thin a wall between two cuts breaks out while it is cut, or later when it is cleaned or knocked.",
    remedy="{cure}",
    addressed="maker",
    ways=(ways.ARTWORK_LARGER,),
    design="with too little land in artwork",
    source="[limits] land in order.toml; without it the larger of the tip and 0.2 mm: common practice, no source",
)

KINDS: tuple[Kind, ...] = (
    MISSING,
    CANNOT_CUT,
    SPECKS,
    CHANGED,
    COLOURS,
    MADE_TO_FIT,
    NO_SIZE,
    DOES_NOT_FIT,
    TOO_FINE,
    TOO_SHALLOW,
    TOO_WIDE,
    GROOVES_TOO_WIDE,
    TOO_DEEP,
    GROOVES_OFF,
    CORNERS_LEFT,
    LAND_TOO_THIN,
)
