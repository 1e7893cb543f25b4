"""The saw card of the shop sheet: pictures of the boards, cuts in saw order with their settings, and the jig."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.core.model import Blank
from pipeline.core.order import Order
from pipeline.core.units import Units
from pipeline.outputs.pdf import styles
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn
from pipeline.outputs.shop_sheet.shop_pictures import board_scale, draw_board
from pipeline.shopfloor.board_layout import Board, BoardLayout
from pipeline.shopfloor.saw import SawCut


def group_alike(boards: Sequence[Board]) -> list[list[Board]]:
    """Boards in groups that are sawn alike, in the order of their numbers."""
    groups: dict[object, list[Board]] = {}
    for b in boards:
        groups.setdefault(b.key, []).append(b)
    return list(groups.values())


def board_pages(book: ShopPages, blank: Blank, order: Order, plan: BoardLayout) -> None:
    """Every board with its rows, then the cut list."""
    units = order.unit
    book.heading("Boards", keep=70)
    book.facts(
        [
            ("Boards", f"{len(plan.boards)}; the area alone would fill {plan.fewest}"),
            ("Pieces", f"{plan.placed} of {plan.wanted}"),
            ("Of the boards' face", f"{100 * plan.share:.1f} % becomes pieces"),
            ("Kerf, trim", f"{units.show(plan.saw.kerf)}, {units.show(plan.saw.trim)} each side"),
            ("Clamp zone", f"{units.show(plan.clamp)} at both ends"),
            ("Grain", "along the board" + ("" if order.board and order.board.grain != "none" else ", any way")),
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
            lambda x, y, b=board, s=scale: draw_board(book.pen, blank, plan, b, x, y + 5, s),  # type: ignore[misc]
        )
    book.paragraph(
        "Pale yellow: clamp zones. Brown lines: kerfs, to scale. Rows are those of the first board of each picture; "
        "the "
        "list below says which piece lies where, from the left end and the datum edge on.",
        styles.QUIET,
    )
    columns = [TableColumn("Board", 0.12), TableColumn("Rows, in the order of their places", 0.88)]
    rows = [(str(b.number), ", ".join(_who(b))) for b in plan.boards]
    book.table(columns, rows)
    _cut_list(book, units, plan)


def _who(board: Board) -> list[str]:
    return [
        f"{p.piece.row}" + (f" ({p.piece.copy} of {p.piece.copies})" if p.piece.copies > 1 else "")
        for p in board.places
    ]


def _numbers(numbers: list[int]) -> str:
    """1–7 · 3, 5 · 4."""
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def _cut_list(book: ShopPages, units: Units, plan: BoardLayout) -> None:
    book.heading("Saw card", keep=60)
    book.caution(words.SAW)
    columns = [
        TableColumn("", 0.05, style=styles.NAME),
        TableColumn("Cut", 0.17),
        TableColumn("Fence or stop", 0.15, right=True),
        TableColumn("Mitre", 0.13, right=True),
        TableColumn("Cuts", 0.08, right=True),
        TableColumn("Parts", 0.42, style=styles.QUIET),
    ]
    rows = [
        (
            str(k),
            _called(group[0]),
            units.show(group[0].setting),
            _lean(group[0]),
            str(len(group)),
            _parts(group),
        )
        for k, group in enumerate(plan.groups, 1)
    ]
    book.table(columns, rows)
    book.paragraph(
        "The setting is from the fence or the stop to the near side of the kerf; every cut goes right through its "
        "part. A "
        "mitre leans outwards when its far end lies farther from the stop. Part 1-2 is the second piece of a board's "
        "first strip; w is waste, g a run of pieces that is sawn on.",
        styles.QUIET,
    )
    if not plan.sides:
        book.paragraph("The edge is not straight-sided: follow the outline with the band saw, then sand to the line.")
        return
    book.paragraph("Then each piece to its line:", styles.BODY)
    columns = [
        TableColumn("Side", 0.16),
        TableColumn("Cut", 0.2),
        TableColumn("Fence or stop", 0.2, right=True),
        TableColumn("Mitre", 0.2, right=True),
        TableColumn("Length", 0.24, right=True),
    ]
    called = {
        "datum": "to the line, by eye",
        "rip": "rip, fence",
        "crosscut": "crosscut, square",
        "mitre": "mitre, jig and stop",
    }
    book.table(
        columns,
        [
            (
                s.name,
                called[s.kind],
                units.show(s.setting) if s.setting else "to the line",
                f"{abs(s.lean):.2f}°" if s.lean else "square",
                units.show(s.length),
            )
            for s in plan.sides
        ],
    )
    if any(s.kind == "mitre" for s in plan.sides):
        book.paragraph(
            "The jig holds the piece with its datum side against the mitre fence; the stop touches the square end. Its "
            "setting is where the finished slanted side meets the datum side.",
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
