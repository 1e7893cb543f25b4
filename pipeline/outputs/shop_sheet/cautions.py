"""Texts of the shop sheet besides numbers: cautions with the papers they come from, grits, notes on holding the work.

Cautions name titles only. They give no medical or legal advice: local rules, the material's safety data sheet and the
machine's own manual come first, and stand first on every card.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.core.config.shop_tables import PRACTICE
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.materials import Material
from pipeline.shopfloor.saw import JOINTED_FROM

FIRST = "Local rules, the machine's manual and the material's safety data sheet come first."
"""Stands before all cautions of a card."""

SAW = (
    "Saw: guard on, riving knife set, nobody in line with the blade; a push stick for the last 300 mm of every cut. "
    "Never free-hand. Fence or mitre gauge, never both for one cut: a piece held between them jams and is thrown. A "
    "piece too small to hold goes on a sled. OSHA 3157, woodworking hazards; 29 CFR 1910.213; HSE WIS16, circular saw "
    "benches; HSE, circular saw bench (push stick of at least 450 mm)."
)
BAND_SAW = (
    "Band saw: set the guard just above the work, the blade at the tension its maker names; a push stick or a block "
    "behind the piece, no hand in line with the blade. OSHA 3157, woodworking hazards; 29 CFR 1910.213."
)
CUTTER = (
    "Cutter: eyes and ears protected, no gloves or loose sleeves near it; change it with the power off; never leave a "
    "running machine alone. OSHA 3157, woodworking hazards."
)
LASER = (
    "Beam: never look into it or run it open; bright metal throws it back; stay beside it, for fire; no PVC and no "
    "unknown plastic; lead the fumes out."
)
DUST = (
    "Hardwood dust: extract at the tool, wear a fitting mask, never sweep it up dry. HSE WIS23, wood dust; EH40/2005 "
    "limits it to 3 mg/m³ over 8 h (check today's local limit)."
)
SOFT_DUST = (
    "Wood dust: extract at the tool, wear a fitting mask, never sweep it up dry. HSE WIS23, wood dust; EH40/2005 has a "
    "limit for softwood dust too."
)
FINE_DUST = "Fine dust: extract at the tool and wear a fitting mask."
STONE = (
    "Stone dust can hold crystalline silica, which harms the lungs for good: cut it wet or extract at the tool, wear a "
    "fitting mask, never sweep or blow it dry. EH40/2005 limits respirable crystalline silica to 0.1 mg/m³ over 8 h "
    "(check today's local limit)."
)
FUMES = "Plastic fumes: lead them out; a dull or too fast cutter melts it. Never PVC with a laser."
GLASS = "Glass: cut-resistant gloves for handling, eyes protected; wet dust, never blow it."
NOISE = "Noise: ear protection beside routers, saws and planers. HSE WIS13, noise."
RESIN = (
    "Resin: gloves that the data sheet names, eyes protected, fresh air, no bare skin: an allergy to epoxy stays for "
    "life. A large mix can get hot enough to smoke. HSE RR079, skin sensitisation by epoxy; CPWR, Working with Epoxy "
    "Resin Systems."
)
SANDING_RESIN = (
    "Cured resin: sand it only after full cure, with extraction, mask and gloves. NIOSH HETA 2011-0180-3193, sanding "
    "cured epoxy."
)
OIL = "Oil: rags with drying oil can catch fire by themselves; spread them out to dry, outdoors."
METAL = "Chips and burrs cut: eyes protected, brush and no bare hand; deburr before handling."
UNKNOWN = (
    "What this material's dust, chips or fumes do is not known here, and nothing is assumed: read its safety data "
    "sheet before you cut it."
)

HAZARDS = {
    "hardwood dust": DUST, "softwood dust": SOFT_DUST, "fine dust": FINE_DUST, "stone dust": STONE, "noise": NOISE,
    "plastic fumes": FUMES, "glass": GLASS, "metal chips": METAL,
}  # fmt: skip
"""What the shelf of materials calls a hazard."""


def list_material_cautions(material: Material) -> tuple[str, ...]:
    """The cautions of a material, its own words last; of an unknown one, that nothing is known."""
    told = tuple(HAZARDS[hazard] for hazard in material.hazards)
    own = (f"{material.name[:1].upper()}{material.name[1:]}: {material.hazard}",) if material.hazard else ()
    return (*told, *own) or (UNKNOWN,)


def list_saw_cautions(material: Material) -> tuple[str, ...]:
    """The cautions of a material that a saw card repeats: of chips that a saw throws, not of dust, which is told where
    the work begins."""
    return tuple(HAZARDS[hazard] for hazard in material.hazards if hazard == "metal chips")


def merge_cautions(cautions: Iterable[str]) -> tuple[str, ...]:
    """All cautions of a card, each once, what comes before them first."""
    each = tuple(dict.fromkeys(cautions))
    return (FIRST, *each) if each else ()


def is_wood(material: Material) -> bool:
    """Return whether papers may call it wood."""
    return material.does("oil") or material.does("plane")


def describe_finish_of_beam(material: Material) -> str:
    """Describe the finish of what only a beam has touched: it leaves no burr. The shop's own words stay."""
    if material.describe_source("finish") != PRACTICE:
        return material.finish
    return re.sub(r"^deburr(, | and )", "", material.finish)


def explain_not_sawn(material: Material) -> str:
    """Explain what comes before a saw card for something that no saw for wood cuts."""
    return (
        f"{material.name[:1].upper()}{material.name[1:]} is not sawn on a saw for wood. The card below gives sizes and "
        "an order only: cut it with what its supplier and the machine's manual name for it, or have the pieces cut."
    )


def describe_datum_edge(material: Material, shortest: float) -> str:
    """The datum edge of a board. Only what is planed goes over a jointer, and nothing short. shortest: length of the
    shortest board, mm."""
    if material.does("plane") and shortest >= JOINTED_FROM:
        return "Joint one long-grain edge of every board first: it is the datum edge, and runs along the fence."
    return "One straight edge of every board is the datum edge, and runs along the fence."


def describe_datum_side(material: Material, short: bool) -> str:
    """Describe how the datum side of a piece is made straight. short: too short for a jointer."""
    if material.does("plane"):
        by_hand = "plane or sand it by hand to the line (too short to joint): the datum side"
        return by_hand if short else "joint it: the datum side"
    return f"saw or {'sand' if material.does('sand') else 'file'} it straight: the datum side"


def explain_sawing_to_line(material: Material) -> str:
    """Explain what follows the saw along a curved edge."""
    return "sand to the line" if material.does("sand") else "finish to the line"


GRITS_SOURCE = "ISO 6344; where to start and end: common practice, no source"
FEPA_P = {
    80: 201.0, 100: 162.0, 120: 125.0, 150: 100.0, 180: 82.0, 220: 68.0, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5,
    400: 35.0, 500: 30.2, 600: 25.8, 800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3,
}  # fmt: skip
"""Median grain, µm, of FEPA P grits (ISO 6344). CAMI grits differ above 220: always write the P."""

FINER_BY = 1.65
"""A next grit at most this much finer takes the scratches of the last one out quickly (common practice, no source)."""
FIRST_GRIT, RESIN_LAST, WOOD_LAST = 120, 1500, 240
"""Finish sanding of clear epoxy in wood runs from P120 to P1500, of oiled wood to P240 (common practice, no source)."""


def list_grits(last: int) -> list[int]:
    """P grits from FIRST_GRIT to `last`, as few as keep every step within FINER_BY."""
    usual = [g for g in FEPA_P if FIRST_GRIT <= g <= last]
    out = [usual[0]]
    while out[-1] != last:
        reach = [g for g in usual if g > out[-1] and FEPA_P[out[-1]] / FEPA_P[g] <= FINER_BY]
        out.append(reach[-1] if reach else usual[usual.index(out[-1]) + 1])
    return out


def describe_holding(holding: str, cutter: Cutter) -> str:
    """Describe how the work is held, for this kind of cutter: a laser has nothing to raise and no collet."""
    if cutter.burns:
        return holding.format(what="the head", idle="the beam off")
    return holding.format(what="the cutter or its collet", idle="the cutter raised")


HOLDING_BOARD = (
    "Lay the board on a flat backer board and clamp through both, only in the clamp zones at the ends; no clamp, screw "
    "or stop may stand where {what} passes. Try the path with {idle} first."
)
HOLDING_BLANK = (
    "Lay the blank on a flat backer board against two fixed edges, and hold it with tape or clamps that stand clear of "
    "the path; try the path with {idle} first."
)
HOLDING_JIG = (
    "Fix the jig square to the machine's axes and don't move it before the last load is out. Clear chips from every "
    "place, seat each blank against the same two sides and hold it down clear of the path; try the path of a load with "
    "{idle} first."
)
ZERO_JIG = "X and Y zero: the jig's zero point, the red cross in its picture, for every load."
ZERO_BOARD = "X and Y zero: the board's lower left corner, where its left end meets the datum edge."
ZERO_BLANK = (
    "X and Y zero: the blank's lower left, where its left and its lower side would meet if it had a corner there."
)
ZERO_CORNER = "X and Y zero: the blank's lower left corner."
ZERO_Z = "Z zero: the face, set again at the same spot after every change of cutter."
FOCUS = "Focus on the face, at the spot named in the machine's manual."
TURNED = (
    "Turn the board over end for end: the datum edge stays against the same fence, and zero is the same corner, now at "
    "the lower right. X then counts to the left."
)
MARKED = " The marks in the clamp zones must meet: keep clamps off them."
TURNED_BLANK = "Turn the piece over sideways: its lower side stays where it is, its left side lies on the right."
TURNED_IN_JIG = (
    "Turn every piece over about its own upright line, so that its top stays at the same end of its place; the jig and "
    "its zero point stay where they are."
)
GUIDE = "The outline is a shallow line for the saw to follow later; it does not go through."
DAMS = " Until then the material around it holds the resin in."
ALONG_GRAIN = " With the finest grit go along the grain only: scratches across it show (common practice, no source)."
ESTIMATE = (
    "An estimate, not a promise: it rests on the rates and assumptions named, and allows no time for spoilt pieces."
)
UNTIMED = "Steps of the order of work that have no time in this table, nor in the cost:"
ADD_OWN = "Add your own."
SHEET_RULES = (
    "The product's data sheet comes first: ratios, layer depth, working time and cure differ from product to product, "
    "and with the temperature of the room."
)
