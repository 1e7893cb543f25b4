"""The words of every way out of a finding that can be taken by an edit of the order, or that depends on the place."""

from __future__ import annotations

from pipeline.core.findings import WayKind

# --- a line that does not fit ------------------------------------------------------------------------------------

ROWS = WayKind(
    code="rows",
    maker="allow {rows} lines (breaks = {rows}): {shown}",
    client="Set it in {rows} lines: {shown}.",
)
ANYWHERE = WayKind(
    code="anywhere",
    maker='allow a break {rule} (break_at = "anywhere" for this line on every plaque; for this row alone, a line '
    "break typed in its cell, with breaks = {rows}): {shown}",
    client="Set it in {rows} lines: {shown}.",
)
TIGHTER = WayKind(
    code="tighter",
    maker="allow tighter spacing (tightest = {tightest})",
    client="Set the letters a little closer together.",
)
NARROWER = WayKind(
    code="narrower",
    maker="allow narrower letters (least_width = {least:g}; {width:g} would do)",
    client="Draw the letters of this name a little narrower.",
)
WORDING = WayKind(
    code="wording",
    maker="ask the client whether “{shorter}” will do",
    client="Write it as “{shorter}”.",
    addressed="client",
)
NARROW_FACE = WayKind(
    code="narrow-face",
    maker="set this line in {face} throughout the order, where it fits at the designed size",
    client="Set all names in {title}, a narrower typeface.",
)
SMALLEST = WayKind(
    code="smallest",
    maker="allow a smaller size (smallest = {size:number}; now {smallest:number})",
    client="Set this one in smaller letters than the others.",
)
START_SMALLER = WayKind(
    code="start-smaller",
    maker="design the line at {size:mm} (cap_height = {size:number}), where it has room",
)

# --- strokes, grooves, land, reading -----------------------------------------------------------------------------

LARGER = WayKind(
    code="larger",
    maker="set the line at {size:mm} or larger ({more:mm} longer, for which there is room)",
)
BETWEEN = WayKind(
    code="between",
    maker="set the line at {size:mm} to {most:mm} ({more:mm} longer, for which there is room)",
)
SMALLER = WayKind(code="smaller", maker="set the line at {size:mm} or smaller")
SMALLER_FROM = WayKind(code="smaller-from", maker="set the line at {least:mm} to {size:mm}")
ARTWORK_LAYER = WayKind(
    code="artwork-layer",
    maker='if they are to be engraved, write layers.artwork = "{layer}" under [blank]',
)
ARTWORK_LARGER = WayKind(
    code="artwork-larger",
    maker="make it {width:mm} wide ({key} = {size:number}), if the lettering leaves it room",
)
ARTWORK_SMALLER = WayKind(code="artwork-smaller", maker="make it {width:mm} wide or less ({key} = {size:number})")
ARTWORK_CUTTER = WayKind(code="artwork-cutter", maker="use the cutter {name}, with which all its strokes can be cut")
COMPENSATE = WayKind(
    code="compensate",
    maker="write compensate = true into [finish], which cuts every groove {sanded:mm} deeper and every stroke "
    "{loss:mm} wider",
)
SAND_LESS = WayKind(code="sand-less", maker="sand off no more than {sanded:finer}")
BIT = WayKind(code="bit", maker="take a bit of {angle:g}° ({name})")
BIT_SANDED = WayKind(code="bit-sanded", maker="take a bit of {angle:g}° ({name}, with which sanding takes {loss:mm})")
BIT_DEEP = WayKind(code="bit-deep", maker="take a bit of {angle:g}° ({name}), which cuts it {depth:mm} deep")
BIT_WIDE = WayKind(
    code="bit-wide", maker="take a bit of {angle:g}° and {diameter:mm} ({name}), which cuts it {depth:mm} deep"
)
FLAT_FLOOR = WayKind(
    code="flat-floor",
    maker="cut it with a flat floor: this bit along the outlines, {depth:mm} deep at most, and a flat cutter to the "
    "same "
    "depth between them",
    addressed="maker",
)
CLEARED_FLOOR = WayKind(
    code="cleared-floor",
    maker="give wide strokes a flat floor {depth:mm} deep: write use = “{name}” into [clearing]; this bit then runs "
    "along their walls, and the flat cutter of {diameter:mm} clears between them",
)
CUT_SHALLOWER = WayKind(
    code="cut-shallower",
    maker="cut no deeper than {deepest:mm} (deepest = {deepest:number} in [limits])",
)
LIGHTER_FACE = WayKind(
    code="lighter-face",
    maker="choose a typeface whose widest strokes are {most:finer-down} at most",
    addressed="maker",
)
GROW_LESS = WayKind(
    code="grow-less",
    maker="sand off less, or leave out `compensate`: it cuts strokes {grown:mm} wider, which is what makes them too "
    "wide",
    addressed="maker",
)
CUTTER = WayKind(code="cutter", maker="take a finer cutter ({name}, {width:mm})")
STROKE_LIMIT = WayKind(
    code="stroke-limit",
    maker="write stroke = {stroke:number} into [limits] if that will do: {name} can make it",
)
SHALLOW_LIMIT = WayKind(
    code="shallow-limit", maker="write shallowest = {shallowest:number} into [limits] after a trial cut"
)
TRACKING = WayKind(code="tracking", maker="space the letters wider (tracking = {tracking})")
OPEN_FACE = WayKind(code="open-face", maker="choose a typeface with more open letters", addressed="maker")
ROWS_APART = WayKind(
    code="rows-apart",
    maker="space the lines wider (`leading` or `space_before` of the line), or set them smaller",
    addressed="maker",
)
MOVE_AWAY = WayKind(code="move-away", maker="move the line away from it, or set it smaller", addressed="maker")

LINE_LARGER = WayKind(code="line-larger", maker="the smallest that works is {size:mm} (cap_height = {size:number})")
LINE_SMALLER = WayKind(code="line-smaller", maker="the largest that works is {size:mm} (cap_height = {size:number})")
LINE_FACE = WayKind(code="line-face", maker="{face} from the shelf would do at {size:mm}")
LINE_FACE_SPACED = WayKind(
    code="line-face-spaced", maker="{face} from the shelf with tracking = {tracking} would do at {size:mm}"
)
TOGETHER = WayKind(code="together", maker="no single change is enough; together these are: {keys}")
NEAREST = WayKind(
    code="nearest",
    maker="nothing that was tried puts all of them right; nearest is {keys}, which leaves {left} of {of} ({told}): "
    "change the zone, the blank or the cutter, or agree shorter wordings with the client",
    addressed="maker",
)

# --- typefaces ---------------------------------------------------------------------------------------------------

WHOLE_LINE = WayKind(code="whole-line", maker="set the whole line in {face}, which is on the shelf")
ALSO = WayKind(code="also", maker='take what is missing from the shelf with also = ["{face}"]')
OTHER_CUTTER = WayKind(
    code="other-cutter",
    maker="no typeface on the shelf has these as {kind}; {faces} would need another cutter",
    addressed="maker",
)
EACH_ALONE = WayKind(
    code="each-alone",
    maker="no one typeface on the shelf has all of these; {each}",
    addressed="maker",
)
ASK_FONT = WayKind(
    code="ask-font", maker="ask the client for another typeface, or for another spelling", addressed="client"
)
NO_FACE = WayKind(
    code="no-face",
    maker="no typeface on the shelf has these; ask the client for a font that has them, or for another spelling",
    addressed="client",
)

# --- the list ----------------------------------------------------------------------------------------------------

HEADER_IS = WayKind(code="header-is", maker="write header = {row}{columns} into [list] if it is the header")
HEADER_NONE = WayKind(code="header-none", maker="write header = 0{columns} if the list has none")

DATES = WayKind(
    code="dates",
    maker='write dates = "{pattern}" into [list] for {example}',
    client="{example}",
)

# --- pockets and boards ------------------------------------------------------------------------------------------

NO_BOARD_FITS = WayKind(
    code="no-board-fits",
    maker="the blank with its trim fits none of the boards: use longer or wider boards, a smaller clamp zone, or "
    "another grain direction",
    addressed="maker",
)
MORE_BOARDS = WayKind(
    code="more-boards", maker="use more boards (`count` of [[board.size]]) or larger ones", addressed="maker"
)

WIDER_PITCH = WayKind(
    code="wider-pitch",
    maker="write {keys} into [jig], and make the jig to it",
)

WAYS: tuple[WayKind, ...] = tuple(value for value in dict(globals()).values() if isinstance(value, WayKind))
