"""Kinds of finding: pocket.*, stock.*, pour.* and board.*. They belong to the order, and come once."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Kind, Severity

CORNER_LEFT = Kind(
    code="pocket.corner-left",
    severity=Severity.NOTE,
    message="{corners:corner of the pocket stays|corners of the pocket stay} rounder than drawn: a cutter of "
    "{diameter:mm} leaves up to {measured} uncut there ({area:.2f} mm² in all)",
    why="A round cutter cannot reach into a corner that is tighter than itself; what is left there is seen.",
    remedy="draw the corners with a radius of {radius:up} or more, take a finer cutter, which leaves less, or finish "
    "them with a chisel",
    addressed="maker",
    client="Inside corners of the pocket will be slightly rounded, because a round cutter makes them.",
    source="the pocket as drawn, opened by the cutter's radius; `corner` of [pocket] says what is not seen",
)
POCKET_SPECKS = Kind(
    code="pocket.specks",
    severity=Severity.NOTE,
    message="{cutter} would clear {places} places of the pocket that are {measured} all together; they are left{then}",
    why="No eye sees a rest of less than a square of 0.1 mm, and changing the cutter for it takes minutes.",
    remedy="nothing",
    addressed="nobody",
    source="0.01 mm² of each place: common practice, no source",
)
CUTTER_TOO_WIDE = Kind(
    code="pocket.cutter-too-wide",
    severity=Severity.STOP,
    stops="order",
    message="{cutter} ({measured}) fits nowhere in the pocket, which is {limit} across at its widest",
    why="A cutter wider than the pocket cuts away the plaque round it.",
    remedy="take a cutter no wider than {across:down} for `{role}` under [pocket]",
    addressed="maker",
    source="the largest circle inside the pocket as drawn",
)
BEYOND_REACH = Kind(
    code="pocket.beyond-reach",
    severity=Severity.STOP,
    stops="order",
    message="the pocket is {measured} deep, but {cutter} reaches only {limit}",
    why="Past its reach the shank or the collet rubs on the work: it burns, breaks the cutter, or lifts the piece.",
    remedy="take a cutter with a longer reach, or mill the pocket no deeper than {reach:down}; see the cutter's own "
    "data",
    addressed="maker",
    source="`reach` of the cutter on the shelf or in order.toml",
)
TOO_THIN = Kind(
    code="stock.too-thin",
    severity=Severity.STOP,
    stops="order",
    message="the stock is {measured} thick, but {limit} are needed {reason}",
    why="Facing, cutting and sanding take thickness away, and the stock has to have enough to lose.",
    remedy="buy thicker stock, or take off less: {parts}",
    addressed="maker",
    source="the thickness budget: [stock], [pocket], [finish] and [blank] thickness of order.toml",
)
SKIN_THIN = Kind(
    code="stock.skin-thin",
    severity=Severity.ASK,
    message="only {measured} of the material is left under the pocket; {limit} is the minimum",
    why="A thin floor bends while it is milled, breaks at the clamps and lets resin through along the grain.",
    remedy="a shallower pocket, thicker stock, or a backer board under it; `least_skin` of [stock] sets the limit",
    addressed="maker",
    source="[blank] thickness less [pocket] depth against `least_skin` of [stock]",
)
FLOOR_TOO_THIN = Kind(
    code="stock.floor-too-thin",
    severity=Severity.STOP,
    message="{which} {depth:mm} deep, which leaves {measured} under it; {limit} is the minimum ({source}){chain}"
    "{sizes}",
    why="A thin floor bends under the cutter, breaks through or shows on the back; in a plate it also buckles.",
    remedy="thicker stock, or `least_floor` of [stock] after a trial cut",
    addressed="maker",
    ways=(
        ways.BIT_DEEP,
        ways.SMALLER,
        ways.SMALLER_FROM,
        ways.LIGHTER_FACE,
        ways.GROW_LESS,
        ways.CLEARED_FLOOR,
        ways.CUT_SHALLOWER,
        ways.ARTWORK_SMALLER,
    ),
    source="[blank] thickness, less what is taken off the face before the cut and off the back, less the deepest cut; "
    "`least_floor` of [stock], or what the material needs",
)
ENGRAVING_LOST = Kind(
    code="stock.engraving-lost",
    severity=Severity.STOP,
    stops="order",
    message="sanding takes {measured} off the face; even the deepest lettering would then be only {left:mm} deep, "
    "and {limit} are wanted",
    why="Lettering that is shallow is sanded away with the face it is cut into.",
    remedy="engrave deeper, sand less, or face the board flat before it is engraved",
    addressed="maker",
    source="`sanded_off` of [finish] against the deepest groove of the order's lettering",
)
RESIN_HIDDEN = Kind(
    code="stock.resin-hidden",
    severity=Severity.ASK,
    message="{measured} come off the back after the pour, but the skin under the pocket is {limit}",
    why="The back is sawn off so that light comes through the resin; a skin of the material would still cover it.",
    remedy="saw off more, or mill the pocket deeper; take sawn_off out of [stock] if the skin is meant to stay",
    addressed="maker",
    edits=((Edit(table="stock", key="sawn_off", value=None),),),
    source="`sawn_off` and `sanded_back` of [stock] against the skin under the pocket",
)
FINISHED_DIFFERS = Kind(
    code="stock.finished-differs",
    severity=Severity.ASK,
    message="the finished piece will be {measured} thick; {limit} were promised",
    why="The thickness the client was promised and what the steps leave do not agree.",
    remedy="change the steps under [stock], or agree another `finished` thickness with the client",
    addressed="maker",
    client="The finished piece will be {measured} thick instead of {limit}. Is that agreed?",
    source="the thickness budget against `finished` of [stock]",
)
NOT_DONE = Kind(
    code="stock.not-done",
    severity=Severity.ASK,
    message="{asked}, but {material} is not {done}",
    why="A plate is not planed, stone is not oiled, a mill breaks glass: a step that does not suit the material spoils "
    "the piece or hurts somebody.",
    remedy="change the order, or describe your own material as a [[material]] of shop.toml",
    addressed="maker",
    source="operations and cutters of the material on the shelf: `plaques materials NAME`",
)
MATERIAL_UNKNOWN = Kind(
    code="stock.material-unknown",
    severity=Severity.NOTE,
    message="nothing is known of “{material}”: no passes, no floor, no cautions for its dust or chips, no look",
    why="Whatever is assumed about an unknown material turns out wrong sooner or later.",
    remedy="name one of `plaques materials`, or describe it as a [[material]] of shop.toml",
    addressed="maker",
    source="the shelf of materials, and the shop file's own",
)
STEPS_CONFLICT = Kind(
    code="work.steps-conflict",
    severity=Severity.ASK,
    message="{first} stands before {second}: {reason}",
    why="Steps in the wrong order undo each other, and the piece is lost.",
    remedy="put {second} before {first} in `steps` of [work]",
    addressed="maker",
    source="the order of the work as [work] has it",
)
TOO_DEEP = Kind(
    code="pour.too-deep",
    severity=Severity.NOTE,
    message="the pour is {measured} deep, more than one layer ({limit}): it is poured in {layers:layer|layers}",
    why="A thick layer heats up while it sets; it yellows, cracks or boils.",
    remedy="nothing, if the wait between layers is planned ({wait}); see the resin's data sheet",
    addressed="nobody",
    source="`layer` of [pour], which belongs to the product: {origin}",
)
WORKING_TIME = Kind(
    code="pour.working-time",
    severity=Severity.ASK,
    message="one layer of one plaque takes {volume:.0f} ml, but only {most:.0f} ml can be mixed and poured at once",
    why="A mix that sets while it is poured leaves a seam, and the rest of it is lost.",
    remedy="pour thinner layers (`layer` of [pour]); where the working time is what limits the mix, a faster pour or a "
    "resin with a longer one helps too; see the resin's data sheet",
    addressed="maker",
    source="`working_time`, `stirring`, `rate` and `largest_mix` of [pour]",
)
DAM_THIN = Kind(
    code="pour.dam-thin",
    severity=Severity.ASK,
    message="at its thinnest {measured} of the material holds the resin back; {limit} is the minimum",
    why="Thin walls leak along the grain, and break when the pocket is milled.",
    remedy="leave more round the outline (`trim` of [board]), seal the wall, or build a dam along {line:mm}",
    addressed="maker",
    source="the wood between pocket and edge, and what is left round the edge until it is trimmed; `dam` of [pour]",
)
RATIOS_DISAGREE = Kind(
    code="pour.ratios-disagree",
    severity=Severity.ASK,
    message=(
        "the mixing ratios by volume and by weight do not match: the hardener would weigh {ratio:.2f} times as much as "
        "the resin, for equal volumes"
    ),
    why="Mixed in the wrong ratio, resin never hardens. The ratios by volume and by weight are two numbers.",
    remedy="copy both from the data sheet: by_volume for measuring cups, by_weight for scales",
    addressed="maker",
    source="resins and hardeners weigh about the same, volume for volume: common practice, no source",
)
NO_DATA_SHEET = Kind(
    code="pour.no-data-sheet",
    severity=Severity.NOTE,
    message="the resin's data sheet is not named: nobody at the bench can look up where its figures come from",
    why="They differ from product to product, and wrong ones spoil the whole batch.",
    remedy="name it under [pour], with its date: data_sheet = “…”",
    addressed="maker",
    source="the product's data sheet, which has the last word",
)
DATA_SHEET_INCOMPLETE = Kind(
    code="pour.data-sheet-incomplete",
    severity=Severity.ASK,
    message="[pour] lacks {missing}; the pour card leaves out what depends on it",
    why=(
        "Ratios, density, depth of a layer and times belong to one product. A figure from another product spoils the "
        "batch, or makes a cup catch fire."
    ),
    remedy="read {keys} off the data sheet and enter the values under [pour], or as a [[resin]] of shop.toml",
    addressed="maker",
    source="what the pour card needs of the product's data sheet",
)
NO_ROOM = Kind(
    code="board.no-room",
    severity=Severity.STOP,
    stops="boards",
    message="the boards have room for {placed} of {wanted:blank|blanks}",
    why="A blank without a place on a board isn't cut; boards with part of the order would be taken for all of it.",
    remedy="",
    ways=(ways.NO_BOARD_FITS, ways.MORE_BOARDS),
    source="the boards, clamp zones, defects, kerf and trim of [board]",
)

KINDS: tuple[Kind, ...] = (
    CORNER_LEFT,
    POCKET_SPECKS,
    CUTTER_TOO_WIDE,
    BEYOND_REACH,
    TOO_THIN,
    SKIN_THIN,
    FLOOR_TOO_THIN,
    ENGRAVING_LOST,
    RESIN_HIDDEN,
    FINISHED_DIFFERS,
    NOT_DONE,
    MATERIAL_UNKNOWN,
    STEPS_CONFLICT,
    TOO_DEEP,
    WORKING_TIME,
    DAM_THIN,
    RATIOS_DISAGREE,
    NO_DATA_SHEET,
    DATA_SHEET_INCOMPLETE,
    NO_ROOM,
)
