"""Kinds of finding: fit.*, what happened to a line on its way into its zone."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Kind, Severity

_FITTING = (
    ways.ROWS,
    ways.ANYWHERE,
    ways.TIGHTER,
    ways.NARROWER,
    ways.WORDING,
    ways.NARROW_FACE,
    ways.SMALLEST,
    ways.START_SMALLER,
)

TOO_LONG = Kind(
    code="fit.too-long",
    severity=Severity.STOP,
    message="line {line} “{text}” is {over:mm} too long for its place at {smallest:mm}, the smallest size allowed",
    why="Lettering that leaves its zone is cut into the edge, a pocket or a hole, and the piece is lost.",
    remedy="agree a shorter wording with the client, or give the line a larger zone",
    addressed="client",
    ways=_FITTING,
    client="“{text}” does not fit, even at the smallest size agreed. What shall we do? {choices}",
    source="the zone less its margin and keep-outs; `smallest` of the line in order.toml",
    design="too long for their place",
)
TOO_TALL = Kind(
    code="fit.too-tall",
    severity=Severity.STOP,
    message="line {line} “{text}” is too tall for its place at {limit}, the smallest size allowed, however short it is",
    why="Lettering that leaves its zone is cut into the edge, a pocket or a hole, and the piece is lost.",
    remedy="place the block otherwise (`vertical`, the same on each of its lines), give it fewer lines, a smaller "
    "margin or a taller zone",
    addressed="maker",
    ways=_FITTING,
    source="the zone less its margin and keep-outs; `smallest` of the line in order.toml",
    design="too tall for their place",
)
OUTSIDE_ZONE = Kind(
    code="fit.outside-zone",
    severity=Severity.STOP,
    message="line {line} “{text}” reaches {measured} outside its zone",
    why="The lines of a zone share its space: this one would fit at its smallest size if the others left enough.",
    remedy="make the lines of its zone fewer or smaller, or widen the zone in the drawing",
    addressed="maker",
    ways=_FITTING,
    source="the zone less its margin",
    design="outside their zone",
)
HITS_KEEP_OUT = Kind(
    code="fit.hits-keep-out",
    severity=Severity.STOP,
    message="line {line} “{text}” comes within {measured} of {kept_free}; {limit} is the minimum",
    why="A keep-out is a screw hole, a mark or a pocket, and artwork is cut too: lettering cut into either is lost.",
    remedy="move the line, or what it runs into",
    addressed="maker",
    ways=_FITTING,
    source="`margin` of the blank in order.toml",
    design="in a keep-out",
)
SET_SMALLER = Kind(
    code="fit.set-smaller",
    severity=Severity.NOTE,
    message="line {line} “{text}” is set at {cap_height:mm} instead of {designed:mm}",
    why="It did not fit at the designed size. The client should know that this name is smaller than the others.",
    remedy="nothing, if the client agrees; at the designed size it would be {over:mm} longer",
    addressed="nobody",
    client="This line has smaller letters than the others, because it is long.",
    source="sizes step by 0.25 mm (0.01 in in inch orders), so that no two are a hair apart",
)
SET_TIGHTER = Kind(
    code="fit.set-tighter",
    severity=Severity.NOTE,
    message="line {line} “{text}” is set tighter by {tracking}/1000 em",
    why="It did not fit with the spacing as designed.",
    remedy="nothing, if it looks right on the proof; `tightest` of the line says how far this may go",
    addressed="nobody",
    source="`tightest` of the line in order.toml",
)
SET_LOOSER = Kind(
    code="fit.set-looser",
    severity=Severity.NOTE,
    message="line {line} “{text}” is set looser by {tracking}/1000 em, so that enough land stays between its letters",
    why="Two letters stood closer together than the material between two cuts can be.",
    remedy="nothing, if it looks right on the proof; `loosest` of the line says how far this may go, 0 forbids it",
    addressed="nobody",
    edits=((Edit(table="line", key="loosest", value=0),),),
    source="`loosest` of the line in order.toml; the least of whole thousandths that holds the land",
)
SET_NARROWER = Kind(
    code="fit.set-narrower",
    severity=Severity.NOTE,
    message="line {line} “{text}” is set in narrower letters: {width:g} % wide instead of {designed:g} %",
    why="It did not fit at the designed width, and narrower letters are less noticeable than smaller ones.",
    remedy="nothing, if it looks right on the proof; `least_width` of the line says how far this may go",
    addressed="nobody",
    client="This line has narrower letters than the others, because it is long.",
    source="`least_width` of the line in order.toml; the typeface's own width axis, in steps of 2.5 %",
)
BROKEN = Kind(
    code="fit.broken",
    severity=Severity.NOTE,
    message="line {line} is broken into {rows} lines: {shown}",
    why="It did not fit on one line. Where a name may be broken is a matter of courtesy as much as of space.",
    remedy="nothing, if the client agrees; `breaks = 1` forbids it",
    addressed="nobody",
    edits=((Edit(table="line", key="breaks", value=1),),),
    source="`breaks` of the line in order.toml",
)
BROKEN_AS_TYPED = Kind(
    code="fit.broken-as-typed",
    severity=Severity.NOTE,
    message="line {line} is broken as it is in the list: {shown}",
    why="Somebody typed a line break into the cell, and `breaks` of the line allows as many lines.",
    remedy="nothing, if that is what the client means; `breaks = 1` forbids it",
    addressed="nobody",
    edits=((Edit(table="line", key="breaks", value=1),),),
    source="`breaks` of the line in order.toml",
)
BREAK_NOT_KEPT = Kind(
    code="fit.break-not-kept",
    severity=Severity.NOTE,
    message="line {line} “{text}” is not broken where the list has a line break: {shown}",
    why="A line break in a cell may be meant, or may only be how the cell was filled.",
    remedy="raise `breaks` of the line to {rows} to keep it, except on an arc",
    addressed="maker",
    source="`breaks` of the line in order.toml",
)
SIZE_MOVED = Kind(
    code="fit.size-moved",
    severity=Severity.ASK,
    message="line {line}: row {by} moved the size of the whole order from {before:mm} to {cap_height:mm}",
    why='With same_size = "all" one name sets every size, so sign-offs for the earlier size no longer hold.',
    remedy='send the new proof, or use same_size = "most" so that only long names are smaller',
    addressed="maker",
    edits=((Edit(table="line", key="same_size", value="most"),),),
    client="All names now have letters of another size than before, so that the longest fits. Is that agreed?",
    source="`same_size` of the line in order.toml",
)
UNLIKE_CUT = Kind(
    code="fit.unlike-cut",
    severity=Severity.ASK,
    message="line {line} of row {row} “{text}” is set at {cap_height:mm}, and pieces cut already have {cut:mm}",
    why='With same_size = "all" a new piece is held to the size of those that are cut. This one does not fit at it, '
    "and beside them the difference shows.",
    remedy="shorten the name with the client, or agree with them that it may be smaller",
    addressed="client",
    source="`same_size` of the line in order.toml, and the sizes signed for of pieces that are cut",
)
ONE_SIZE = Kind(
    code="fit.one-size",
    severity=Severity.NOTE,
    message="line {line} is set at {cap_height:mm} throughout instead of {designed:mm}: row {row} “{text}” sets it",
    why='With same_size = "all" the longest name decides how large every name is.',
    remedy='nothing, if that is wanted; same_size = "most" makes only the long names smaller',
    addressed="nobody",
    edits=((Edit(table="line", key="same_size", value="most"),),),
    source="`same_size` of the line in order.toml",
)
LINE_LEFT_OUT = Kind(
    code="fit.line-left-out",
    severity=Severity.NOTE,
    message="line {line} is left out: the list has nothing for {columns}",
    why="A line whose columns are all empty is not cut, and the lines round it close up.",
    remedy="fill the cell if something belongs there",
    addressed="maker",
    source="the order's rule for empty columns",
)

KINDS: tuple[Kind, ...] = (
    TOO_LONG,
    TOO_TALL,
    OUTSIDE_ZONE,
    HITS_KEEP_OUT,
    SET_SMALLER,
    SET_TIGHTER,
    SET_LOOSER,
    SET_NARROWER,
    BROKEN,
    BROKEN_AS_TYPED,
    BREAK_NOT_KEPT,
    SIZE_MOVED,
    UNLIKE_CUT,
    ONE_SIZE,
    LINE_LEFT_OUT,
)
