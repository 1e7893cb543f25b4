"""The saw card of the shop sheet: pictures of the boards, cuts in saw order with their settings, and the jig."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.core.config.order import Order
from pipeline.core.config.shop_tables import get_source
from pipeline.core.model import Blank
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.cutting.materials import Material, SourcedValue, get_material
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.material_look import PieceLook
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_pictures import draw_board, find_board_scale
from pipeline.outputs.shop_sheet.value_origins import COUNTED
from pipeline.shopfloor.board_layout import Board, BoardLayout, get_grain
from pipeline.shopfloor.saw import SawCut, SawnSide


def group_alike(boards: Sequence[Board]) -> list[list[Board]]:
    """Boards in groups that are sawn alike, in the order of their numbers."""
    groups: dict[object, list[Board]] = {}
    for b in boards:
        groups.setdefault(b.key, []).append(b)
    return list(groups.values())


def draw_board_pages(book: ShopPages, blank: Blank, order: Order, plan: BoardLayout, look: PieceLook) -> None:
    """Every board with its rows, then the cut list. look: of the pieces."""
    units, part = order.spoken, require_value(order.board, "[board]")

    def mark_stated(length: float, key: str) -> str:
        return state(units.show(length), get_source(part, key))

    laid = say_computed("the sizes of the boards, the blank, kerf, trim and clamp zones")
    area = say_computed("the areas of the boards and the blank")
    book.add_heading("Boards", keep=70)
    book.add_facts(
        [
            ("Boards", f"{state(len(plan.boards), laid)}; by area alone, {state(plan.fewest, area)} would do"),
            ("Pieces", f"{state(plan.placed, laid)} of {state(plan.wanted, COUNTED)}"),
            ("Of the boards' face", f"{state(f'{100 * plan.share:.1f} %', area)} becomes pieces"),
            ("Kerf, trim", f"{mark_stated(plan.saw.kerf, 'kerf')}, {mark_stated(plan.saw.trim, 'trim')} each side"),
            ("Clamp zone", f"{mark_stated(plan.clamp, 'clamp')} at both ends"),
            ("Grain on the piece", _GRAIN[get_grain(order)]),
        ],
        3,
    )
    for group in group_alike(plan.boards):
        board = group[0]
        sheet = board.layout.sheet
        scale = find_board_scale(board, book.room)
        height = sheet.width * scale + 6
        book.ensure_room(height + 8)
        told = f"{_name_boards([b.number for b in group]).capitalize()}: {sheet.name}, "
        told += f"{units.format_number(sheet.length)} × {units.show(sheet.width)} ([[board.size]]), "
        told += f"{len(board.places)} piece{'' if len(board.places) == 1 else 's'}"
        book.add_note(told, styles.SMALL)
        book.add_picture(
            height,
            lambda x, y, b=board, s=scale: draw_board(book.pen, blank, plan, b, x, y + 5, s, look),  # type: ignore[misc]
        )
    book.add_paragraph(
        "Pale yellow: clamp zones. Brown lines: kerfs, to scale. Each picture shows the rows of its first board; the "
        "list below says which piece lies where, starting at the left end and the datum edge.",
        styles.QUIET,
    )
    columns = [
        TableColumn("Board", 0.12, names=True),
        TableColumn("Rows, in the order of their places", 0.88, names=True),
    ]
    rows = [(str(b.number), describe_pieces(b)) for b in plan.boards]
    book.add_table(columns, rows)
    _draw_cut_list(book, order, plan)


_GRAIN = {"upright": "upright", "across": "across", "none": "none, any way", None: "not stated, laid upright"}


def describe_pieces(board: Board) -> str:
    """The rows of a board's pieces in the order of their places; those that are not signed come last and say so."""
    told: dict[bool, list[str]] = {True: [], False: []}
    for place in board.places:
        piece = place.piece
        copies = f" ({piece.copy} of {piece.copies})" if piece.copies > 1 else ""
        told[piece.signed].append(f"{piece.row}{copies}")
    waiting = [f"not signed: {', '.join(told[False])}"] if told[False] else []
    return "; ".join([*filter(None, [", ".join(told[True])]), *waiting])


def _format_numbers(numbers: list[int]) -> str:
    """1–7 · 3, 5 · 4."""
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def _draw_cut_list(book: ShopPages, order: Order, plan: BoardLayout) -> None:
    units = order.spoken
    book.add_heading("Saw card", keep=60)
    material, grain = get_material(order), get_grain(order)
    book.add_cautions(words.merge_cautions((words.SAW, words.NOISE, *words.list_saw_cautions(material))))
    if material.operations and not material.does("saw"):
        book.add_caution(words.explain_not_sawn(material))
    if grain is None:
        book.add_caution(
            "The order does not say how the grain runs ([board] grain), and this card depends on it: only a side along "
            "the grain may be jointed and run along the fence. Boards are assumed to have it along their length."
        )
    if any(c.kind in ("rip", "taper rip") for c in plan.cuts):
        shortest = min((b.layout.sheet.length for b in plan.boards), default=0.0)
        book.add_paragraph(words.describe_datum_edge(material, shortest))
    columns = [
        TableColumn("", 0.05, style=styles.NAME, names=True),
        TableColumn("Cut", 0.15),
        TableColumn("Guided by", 0.2),
        TableColumn("Setting", 0.13, right=True),
        TableColumn("Angle", 0.12, right=True),
        TableColumn("Cuts", 0.07, right=True),
        TableColumn("Parts", 0.28, style=styles.QUIET, names=True),
    ]
    laid = say_computed("the layout above, with kerf and trim")
    rows = [
        (
            str(k),
            _name_cut(group[0]),
            describe_guide(group[0]),
            state(units.show(group[0].setting), laid),
            state(_describe_lean(group[0]), laid) if group[0].lean else "square",
            state(len(group), laid),
            _name_parts(group),
        )
        for k, group in enumerate(plan.groups, 1)
    ]
    book.add_table(columns, rows)
    book.add_note(
        "The setting is from the fence or the stop block to the near side of the kerf; every cut goes right through "
        "its part. The stop block sits on the mitre gauge or the sled, never on the fence. An angle leans outwards "
        "when the far end of the cut lies farther from the stop. Part 1-2 is the second piece of a board's first "
        "strip; w is waste, g a run of pieces still to be sawn apart.",
    )
    _draw_to_the_line(book, order, plan)


def describe_guide(cut: SawCut) -> str:
    """Describe what guides a cut: along the grain the fence, across it the mitre gauge with a stop block, at an angle a
    sled."""
    if cut.kind == "rip":
        return "fence" if cut.along_fence else "sled, stop block"
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
    "rip": "sled, datum side against its fence, clamped: parallel to it",
}
"""How a side is sawn that is too short to be fed along the fence, or an end longer than the side it is guided by."""


def explain_sawing(side: SawnSide, material: Material) -> str:
    """Explain how a side of a piece is brought to its line."""
    if side.kind == "datum":
        return words.describe_datum_side(material, side.short_to_joint)
    return _ON_SLED[side.kind] if side.outreaches or side.short_to_rip else _HOW[side.kind]


def _draw_to_the_line(book: ShopPages, order: Order, plan: BoardLayout) -> None:
    """Each piece to its outline, side by side."""
    units = order.spoken
    if not plan.sides:
        book.add_paragraph(
            "The edge is not straight-sided: follow the outline with the band saw, then "
            f"{words.explain_sawing_to_line(get_material(order))}."
        )
        return
    book.ensure_room(30)  # keep it with the head of its table
    book.add_paragraph("Then each piece to its line, in this order:", styles.BODY)
    material, left = get_material(order), plan.allowance
    drawn = say_computed("the blank's outline" + (" and what is left for finishing" if left.value else ""))
    columns = [
        TableColumn("Side", 0.13),
        TableColumn("Grain", 0.09),
        TableColumn("How", 0.32),
        TableColumn("Setting", 0.19, right=True),
        TableColumn("Angle", 0.09, right=True),
        TableColumn("Left to finish", 0.13, right=True),
        TableColumn("Length", 0.13, right=True),
    ]
    rows = []
    for side in plan.sides:
        setting = "to the line"
        if side.setting or side.far:
            setting = units.show(side.setting)
            if abs(side.setting - side.far) > 0.005:
                setting = f"{units.format_number(side.setting)} to {units.show(side.far)}"
            setting = state(setting, drawn)
        along = {True: "along", False: "across", None: "?"}[side.along] if get_grain(order) != "none" else "none"
        angle = "square" if side.kind not in ("datum", "line") else ""
        angle = state(f"{side.lean:.2f}°", say_computed("the blank's outline")) if side.lean else angle
        keeps = "" if side.kind == "datum" or not left.value else state(units.show(left.value), left.source)
        how, length = explain_sawing(side, material), state(units.show(side.length), drawn)
        rows.append((side.name, along, how, setting, angle, keeps, length))
    shown = [k for k, column in enumerate(columns) if column.title != "Left to finish" or left.value]
    book.add_table([columns[k] for k in shown], [tuple(row[k] for k in shown) for row in rows])
    book.add_note(_describe_allowance(left, material), styles.SMALL)
    if any(s.kind == "sled" or s.outreaches or s.short_to_rip for s in plan.sides):
        book.add_note(
            "On the sled the datum side lies against its fence, clamped. The setting of a slanted side is its distance "
            "from the datum side, or from the squared end, at either end of the cut.",
            styles.SMALL,
        )


def _describe_allowance(left: SourcedValue, material: Material) -> str:
    """Describe what is done with what the saw leaves beyond the line."""
    if not left.value:
        return f"Saw right to the line: nothing is left for finishing ({left.source})."
    how = "Plane or sand" if material.does("plane") else "Sand" if material.does("sand") else "File"
    said = "Settings and lengths include what is left to finish on every sawn side"
    return f"{said}. {how} that off, down to the line; the datum side is at its line already, so take nothing off it."


def _describe_lean(cut: SawCut) -> str:
    if not cut.lean:
        return "square"
    return f"{abs(cut.lean):.1f}° {'outwards' if cut.lean > 0 else 'inwards'}"


def _name_cut(cut: SawCut) -> str:
    if cut.waste:
        return f"{cut.kind}, waste off"
    return cut.kind


def _name_parts(group: list[SawCut]) -> str:
    """Name what comes off at one setting, boards with the same parts together: `boards 1–7: 1-1 to 1-6; board 8:
    1-1`."""
    by_board: dict[int, list[str]] = {}
    for c in group:
        by_board.setdefault(c.board, []).append(c.off.partition(".")[2])
    same: dict[str, list[int]] = {}
    for board, parts in sorted(by_board.items()):
        same.setdefault(_format_runs(parts), []).append(board)
    return "; ".join(f"{_name_boards(numbers)}: {parts}" for parts, numbers in same.items())


def _name_boards(numbers: list[int]) -> str:
    return f"{'boards' if len(numbers) > 1 else 'board'} {_format_numbers(numbers)}"


def _format_runs(parts: list[str]) -> str:
    """1-1 to 1-6, 2-1: parts whose last number counts on are told by the first and the last."""
    out: list[list[str]] = []
    for part in sorted(parts, key=_build_sort_key):
        before = out[-1][-1] if out else ""
        if before and _follows(before, part):
            out[-1].append(part)
        else:
            out.append([part])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in out)


def _build_sort_key(part: str) -> list[tuple[int, str]]:
    return [(int(text), "") if text.isdigit() else (0, text) for text in re.split(r"(\d+)", part) if text]


def _follows(before: str, part: str) -> bool:
    head, number = re.fullmatch(r"(.*?)(\d+)?", part).groups()  # type: ignore[union-attr]
    return number is not None and before == f"{head}{int(number) - 1}"
