"""The saw card of the shop sheet: pictures of the boards, cuts in saw order with their settings, and the jig."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from pipeline.core.model import Blank
from pipeline.core.order import Order
from pipeline.cutting.materials import Material, get_material
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.material_look import PieceLook
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_pictures import board_scale, draw_board
from pipeline.shopfloor.board_layout import Board, BoardLayout, grain_of
from pipeline.shopfloor.saw import SawCut, SawnSide


def group_alike(boards: Sequence[Board]) -> list[list[Board]]:
    """Boards in groups that are sawn alike, in the order of their numbers."""
    groups: dict[object, list[Board]] = {}
    for b in boards:
        groups.setdefault(b.key, []).append(b)
    return list(groups.values())


def board_pages(book: ShopPages, blank: Blank, order: Order, plan: BoardLayout, look: PieceLook) -> None:
    """Every board with its rows, then the cut list. look: of the pieces."""
    units = order.spoken
    book.heading("Boards", keep=70)
    book.facts(
        [
            ("Boards", f"{len(plan.boards)}; the area alone would fill {plan.fewest}"),
            ("Pieces", f"{plan.placed} of {plan.wanted}"),
            ("Of the boards' face", f"{100 * plan.share:.1f} % becomes pieces"),
            ("Kerf, trim", f"{units.show(plan.saw.kerf)}, {units.show(plan.saw.trim)} each side"),
            ("Clamp zone", f"{units.show(plan.clamp)} at both ends"),
            ("Grain on the piece", _GRAIN[grain_of(order)]),
        ],
        3,
    )
    for group in group_alike(plan.boards):
        board = group[0]
        sheet = board.layout.sheet
        scale = board_scale(board, book.room)
        height = sheet.width * scale + 6
        book.need(height + 8)
        told = f"{_boards([b.number for b in group]).capitalize()}: {sheet.name}, "
        told += f"{units.number(sheet.length)} × {units.show(sheet.width)}, {len(board.places)} pieces"
        book.paragraph(told, styles.SMALL)
        book.picture(
            height,
            lambda x, y, b=board, s=scale: draw_board(book.pen, blank, plan, b, x, y + 5, s, look),  # type: ignore[misc]
        )
    book.paragraph(
        "Pale yellow: clamp zones. Brown lines: kerfs, to scale. Rows are those of the first board of each picture; "
        "the "
        "list below says which piece lies where, from the left end and the datum edge on.",
        styles.QUIET,
    )
    columns = [TableColumn("Board", 0.12), TableColumn("Rows, in the order of their places", 0.88)]
    rows = [(str(b.number), pieces_on(b)) for b in plan.boards]
    book.table(columns, rows)
    _cut_list(book, order, plan)


_GRAIN = {"upright": "upright", "across": "across", "none": "none, any way", None: "not stated, laid upright"}


def pieces_on(board: Board) -> str:
    """The rows of a board's pieces in the order of their places; those that are not signed come last and say so."""
    told: dict[bool, list[str]] = {True: [], False: []}
    for place in board.places:
        piece = place.piece
        copies = f" ({piece.copy} of {piece.copies})" if piece.copies > 1 else ""
        told[piece.signed].append(f"{piece.row}{copies}")
    waiting = [f"not signed: {', '.join(told[False])}"] if told[False] else []
    return "; ".join([*filter(None, [", ".join(told[True])]), *waiting])


def _numbers(numbers: list[int]) -> str:
    """1–7 · 3, 5 · 4."""
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def _cut_list(book: ShopPages, order: Order, plan: BoardLayout) -> None:
    units = order.spoken
    book.heading("Saw card", keep=60)
    book.cautions(words.one_caution((words.SAW, words.NOISE)))
    material, grain = get_material(order), grain_of(order)
    if material.operations and not material.does("saw"):
        book.caution(words.not_sawn(material))
    if grain is None:
        book.caution(
            "The order does not say how the grain runs ([board] grain), and this card depends on it: only a side along "
            "the grain may be jointed and run along the fence. Boards are taken to have it along their length."
        )
    if any(c.kind in ("rip", "taper rip") for c in plan.cuts):
        shortest = min((b.layout.sheet.length for b in plan.boards), default=0.0)
        book.paragraph(words.datum_edge(material, shortest))
    columns = [
        TableColumn("", 0.05, style=styles.NAME),
        TableColumn("Cut", 0.15),
        TableColumn("Guided by", 0.2),
        TableColumn("Setting", 0.13, right=True),
        TableColumn("Angle", 0.12, right=True),
        TableColumn("Cuts", 0.07, right=True),
        TableColumn("Parts", 0.28, style=styles.QUIET),
    ]
    rows = [
        (
            str(k),
            _called(group[0]),
            guide_of(group[0]),
            units.show(group[0].setting),
            _lean(group[0]),
            str(len(group)),
            _parts(group),
        )
        for k, group in enumerate(plan.groups, 1)
    ]
    book.table(columns, rows)
    book.paragraph(
        "The setting is from the fence or the stop block to the near side of the kerf; every cut goes right through "
        "its part. The stop block sits on the mitre gauge or the sled, never on the fence. An angle leans outwards "
        "when the far end of the cut lies farther from the stop. Part 1-2 is the second piece of a board's first "
        "strip; w is waste, g a run of pieces that is sawn on.",
        styles.QUIET,
    )
    _to_the_line(book, order, plan)


def guide_of(cut: SawCut) -> str:
    """What guides a cut: along the grain the fence, across it the mitre gauge with a stop block, at an angle a sled. A
    part wider than the cut is long would jam along the fence."""
    x0, y0, x1, y1 = cut.line
    if cut.kind == "rip":
        return "fence" if cut.setting <= math.hypot(x1 - x0, y1 - y0) else "sled, stop block"
    if cut.kind == "crosscut":
        return "mitre gauge, stop block"
    return "sled, stop block" if cut.kind == "mitre" else "taper sled"


_HOW = {
    "rip": "rip along the fence, datum side against it",
    "square": "square it on the mitre gauge, datum side against the gauge",
    "stop": "mitre gauge, squared end against the stop block",
    "sled": "sled, or band saw",
    "line": "to its line",
}
"""How a side of a piece is sawn."""
_ON_SLED = {
    "square": "sled, datum side against its fence, clamped: square it",
    "stop": "sled, datum side against its fence, clamped, squared end against the stop block",
}
"""How an end is sawn that is longer than the side it is guided by."""


def how_sawn(side: SawnSide, material: Material) -> str:
    """How a side of a piece is brought to its line."""
    if side.kind == "datum":
        return words.datum_side(material, side.short_to_joint)
    return _ON_SLED[side.kind] if side.outreaches else _HOW[side.kind]


def _to_the_line(book: ShopPages, order: Order, plan: BoardLayout) -> None:
    """Each piece to its outline, side by side."""
    units = order.spoken
    if not plan.sides:
        book.paragraph(
            "The edge is not straight-sided: follow the outline with the band saw, then "
            f"{words.to_the_line(get_material(order))}."
        )
        return
    book.need(30)  # not without the head of its table
    book.paragraph("Then each piece to its line, in this order:", styles.BODY)
    columns = [
        TableColumn("Side", 0.14),
        TableColumn("Grain", 0.1),
        TableColumn("How", 0.34),
        TableColumn("Setting", 0.2, right=True),
        TableColumn("Angle", 0.1, right=True),
        TableColumn("Length", 0.12, right=True),
    ]
    rows = []
    for side in plan.sides:
        setting = "to the line"
        if side.setting or side.far:
            setting = units.show(side.setting)
            if abs(side.setting - side.far) > 0.005:
                setting = f"{units.number(side.setting)} to {units.show(side.far)}"
        along = {True: "along", False: "across", None: "?"}[side.along] if grain_of(order) != "none" else "none"
        angle = f"{side.lean:.2f}°" if side.lean else "square" if side.kind not in ("datum", "line") else ""
        rows.append((side.name, along, how_sawn(side, get_material(order)), setting, angle, units.show(side.length)))
    book.table(columns, rows)
    if any(s.kind == "sled" or s.outreaches for s in plan.sides):
        book.paragraph(
            "On the sled the datum side lies against its fence, clamped. The setting of a slanted side is its distance "
            "from the datum side, or from the squared end, at either end of the cut.",
            styles.SMALL,
        )


def _lean(cut: SawCut) -> str:
    if not cut.lean:
        return "square"
    return f"{abs(cut.lean):.1f}° {'outwards' if cut.lean > 0 else 'inwards'}"


def _called(cut: SawCut) -> str:
    if cut.waste:
        return f"{cut.kind}, waste off"
    return cut.kind


def _parts(group: list[SawCut]) -> str:
    """What comes off at one setting, boards with the same parts together: `boards 1–7: 1-1 to 1-6; board 8: 1-1`."""
    by_board: dict[int, list[str]] = {}
    for c in group:
        by_board.setdefault(c.board, []).append(c.off.partition(".")[2])
    same: dict[str, list[int]] = {}
    for board, parts in sorted(by_board.items()):
        same.setdefault(_runs(parts), []).append(board)
    return "; ".join(f"{_boards(numbers)}: {parts}" for parts, numbers in same.items())


def _boards(numbers: list[int]) -> str:
    return f"{'boards' if len(numbers) > 1 else 'board'} {_numbers(numbers)}"


def _runs(parts: list[str]) -> str:
    """1-1 to 1-6, 2-1: parts whose last number counts on are told by the first and the last."""
    out: list[list[str]] = []
    for part in sorted(parts, key=_by_number):
        before = out[-1][-1] if out else ""
        if before and _follows(before, part):
            out[-1].append(part)
        else:
            out.append([part])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in out)


def _by_number(part: str) -> list[tuple[int, str]]:
    return [(int(text), "") if text.isdigit() else (0, text) for text in re.split(r"(\d+)", part) if text]


def _follows(before: str, part: str) -> bool:
    head, number = re.fullmatch(r"(.*?)(\d+)?", part).groups()  # type: ignore[union-attr]
    return number is not None and before == f"{head}{int(number) - 1}"
