"""What the shop sheet says besides numbers: cautions with the papers they come from, grits, notes on holding the work.

Cautions name titles only. They give no medical or legal advice: local rules, the product's data sheet and the machine's
own manual come first, and each says so.
"""

from __future__ import annotations

FIRST = "Local rules, data sheets and the machine's manual come first."


SAW = (
    "Guard, riving knife and push stick on; nobody in line with the blade; never free-hand, a small piece in a jig. "
    "See OSHA 3157, woodworking hazards, and 29 CFR 1910.213, woodworking machinery. " + FIRST
)
CUTTER = (
    "Eyes and ears protected, no gloves or loose sleeves near a turning cutter; change it with the power off; never "
    "leave a running machine alone. See OSHA 3157, woodworking hazards. " + FIRST
)
LASER = (
    "Never look into the beam or run it open; a fire watch stays with it; no PVC or unknown plastics; fumes led out. "
    + FIRST
)
DUST = (
    "Extract at the tool, wear a fitting dust mask, do not sweep dry. Hardwood dust is a hazard by itself: HSE WIS23, "
    "wood dust; EH40 limits hardwood dust to 3 mg/m³ over 8 h (check today's local limit). " + FIRST
)
NOISE = "Ear protection beside routers, saws and planers: HSE WIS13, noise. " + FIRST
RESIN = (
    "Gloves that the data sheet names, eyes protected, fresh air, no bare skin: sensitivity to epoxy stays for life. "
    "See HSE RR079, skin sensitisation by epoxy, and CPWR, Working with Epoxy Resin Systems. A large mix can get hot "
    "enough "
    "to smoke. " + FIRST
)
SANDING_RESIN = (
    "Only after full cure; extract, mask and gloves: the dust of cured epoxy harms too. See NIOSH HETA 2011-0180-3193, "
    "sanding cured epoxy. " + FIRST
)
OIL = "Rags with drying oil can catch fire by themselves: spread them out to dry, outdoors. " + FIRST
METAL = "Burrs cut: deburr or handle by the edges; eyes protected from chips. " + FIRST

SHORT = {
    SAW: "saw", CUTTER: "cutter", LASER: "beam", DUST: "dust", NOISE: "noise", RESIN: "resin",
    SANDING_RESIN: "cured resin", OIL: "oil", METAL: "burrs",
}  # fmt: skip
"""What a caution is about, where it is given again."""


def drop_repeated(cautions: tuple[str, ...], step: int, said: dict[str, int]) -> str:
    """A step's cautions, each in full where it comes first, later only with that step's number. `said` is carried from
    step to step: caution -> where it was given."""
    fresh = [c for c in cautions if c not in said]
    before: dict[int, list[str]] = {}
    for c in cautions:
        if c in said:
            before.setdefault(said[c], []).append(SHORT[c])
    again = [f"{', '.join(names).capitalize()}: as in step {n}." for n, names in sorted(before.items())]
    said.update(dict.fromkeys(fresh, step))
    return " ".join([*(c.removesuffix(FIRST).strip() for c in fresh), *again, *([FIRST] if fresh else [])])


FEPA_P = {
    80: 201.0, 100: 162.0, 120: 125.0, 150: 100.0, 180: 82.0, 220: 68.0, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5,
    400: 35.0, 500: 30.2, 600: 25.8, 800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3,
}  # fmt: skip
"""Median grain, µm, of FEPA P grits (ISO 6344). CAMI grits differ above 220: always write the P."""

FINER_BY = 1.65
"""A next grit at most this much finer takes the scratches of the last one out quickly (common practice, no source)."""
FIRST_GRIT, RESIN_LAST, WOOD_LAST = 120, 1500, 240
"""Finish sanding of clear epoxy in wood runs from P120 to P1500, of oiled wood to P240 (common practice, no source)."""


def grits(last: int) -> list[int]:
    """P grits from FIRST_GRIT to `last`, as few as keep every step within FINER_BY."""
    usual = [g for g in FEPA_P if FIRST_GRIT <= g <= last]
    out = [usual[0]]
    while out[-1] != last:
        reach = [g for g in usual if g > out[-1] and FEPA_P[out[-1]] / FEPA_P[g] <= FINER_BY]
        out.append(reach[-1] if reach else usual[usual.index(out[-1]) + 1])
    return out


HOLDING_BOARD = (
    "Lay the board on a flat backer board and clamp through both, only in the clamp zones at the ends; no clamp, screw "
    "or stop may stand where the cutter or its collet passes. Try the path with the cutter raised first."
)
HOLDING_BLANK = (
    "Lay the blank on a flat backer board against two fixed edges, and hold it with tape or clamps that stand clear of "
    "the path; try the path with the cutter raised first."
)
HOLDING_JIG = (
    "Fix the jig square to the machine's axes and don't move it before the last load is out. Clear chips from every "
    "place, seat each blank against the same two sides and hold it down clear of the path; try the path of a load with "
    "the cutter raised first."
)
ZERO_JIG = "X and Y zero: the jig's zero point, the red cross of its picture, for every load."
ZERO_BOARD = "X and Y zero: the board's lower left corner, where its left end meets the datum edge."
ZERO_BLANK = (
    "X and Y zero: the blank's lower left, where its left and its lower side would meet if it had a corner there."
)
ZERO_CORNER = "X and Y zero: the blank's lower left corner."
ZERO_Z = "Z zero: the face, taken anew at the same spot after every change of cutter."
FOCUS = "Focus on the face, at the spot that the machine's manual names."
TURNED = (
    "Turn the board over end for end: the datum edge stays against the same fence, and zero is the same corner, now at "
    "the lower right. X then counts to the left."
)
MARKED = " The marks in the clamp zones must meet: keep clamps off them."
TURNED_BLANK = "Turn the piece over sideways: its lower side stays where it is, its left side lies on the right."
TURNED_IN_JIG = "Turn every piece over sideways in its own place; the jig and its zero point stay where they are."
GUIDE = "The outline is cut as a shallow line, not through; the saw follows it later."
DAMS = " Until then the wood round it dams the resin."
ESTIMATE = "An estimate, not a promise: it holds for the rates and assumptions named, with no time for spoilt pieces."
SHEET_RULES = (
    "The product's data sheet rules: ratios, depth of a layer, working time and cure differ from product to product, "
    "and with the temperature of the room."
)
