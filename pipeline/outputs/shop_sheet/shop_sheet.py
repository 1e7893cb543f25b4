"""shop.pdf: what a person at the machine needs on one clipboard. Only what the order has is shown."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pipeline.core.catalogue import format_message, format_remedy, list_stopping
from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.config.shop_tables import PRACTICE, RatesConfig, get_source
from pipeline.core.findings import Severity
from pipeline.core.model import Blank, Outcome
from pipeline.core.required import require_value
from pipeline.core.stated_values import say_computed, state
from pipeline.core.storage.files import write_whole
from pipeline.cutting.materials import get_material
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.material_look import choose_look
from pipeline.outputs.pdf.text_style import PAPERS
from pipeline.outputs.revision import build_identity
from pipeline.outputs.row_totals import count_rows, describe_left_out, describe_part
from pipeline.outputs.shop_sheet import cautions as words
from pipeline.outputs.shop_sheet.cutter_table import draw_cutter_table
from pipeline.outputs.shop_sheet.jig_page import draw_jig_pages
from pipeline.outputs.shop_sheet.operations import Operation, list_operations
from pipeline.outputs.shop_sheet.piece_card import draw_pocket_part, draw_thickness
from pipeline.outputs.shop_sheet.pour_card import draw_pour_card
from pipeline.outputs.shop_sheet.saw_card import draw_board_pages
from pipeline.outputs.shop_sheet.shop_page import ShopPages, TableColumn, collect_repeats
from pipeline.outputs.shop_sheet.tick_list import draw_tick_pages
from pipeline.outputs.shop_sheet.value_origins import (
    COUNTED,
    LOADS,
    THICKNESS,
    describe_blank_origin,
    describe_movement_origin,
)
from pipeline.shopfloor.shop_plan import ShopPlan
from pipeline.shopfloor.time_estimate import TimeEstimate, format_minutes

FLOOR = ("pocket", "stock", "work", "pour", "board", "jig")
"""Prefixes of findings that concern the shop floor; open ones are listed at the top of the sheet."""


def write_shop_sheet(outcome: Outcome, folder: OrderFolder, plan: ShopPlan, path: Path) -> int:
    """Write the shop sheet and return its number of pages. CannotRun when it can't be written."""
    data, pages = write_sheet(outcome, folder, plan)
    write_whole(path, data)
    return pages


def write_sheet(outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> tuple[bytes, int]:
    """The shop sheet, and its number of pages."""
    pen = PaperCanvas(*PAPERS[folder.order.proof.paper], foreign=collect_repeats(outcome.plaques))
    mark = " · ".join(filter(None, (f"order {build_identity(outcome).order_id}", describe_part(outcome))))
    book = ShopPages(pen, f"{outcome.title} · {outcome.client}" if outcome.client else outcome.title, mark)
    _draw(book, outcome, folder, plan)
    return book.finish(f"Shop sheet: {outcome.title}", folder.order.proof.shop)


def _draw(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    _draw_front(book, outcome, folder, plan)
    if list_stopping(outcome.findings, "order"):  # show the piece, where the fault is visible, but no work to do
        _draw_piece(book, outcome, folder, plan)
        return
    _draw_operations(book, outcome, folder, plan)
    _draw_cutters(book, outcome, folder, plan)
    _draw_piece(book, outcome, folder, plan)
    if plan.pour is not None:
        draw_pour_card(book, folder, plan)
    look = choose_look(folder.order, plan.cutter.surface)
    if plan.boards is not None:
        draw_board_pages(book, outcome.blank, folder.order, plan.boards, look)
    if plan.jigs is not None:
        draw_jig_pages(book, outcome.blank, folder.order, plan.jigs, look)
    _draw_time(book, plan.estimate, folder.order.rates, list_operations(plan, folder.order))
    draw_tick_pages(book, outcome, folder, plan)


def _draw_piece(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    if plan.thickness is not None:
        draw_thickness(book, folder, plan)
    if plan.pocket is not None:
        draw_pocket_part(book, outcome, folder, plan)


def _draw_front(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    order, units, blank = folder.order, folder.order.spoken, outcome.blank
    book.add_title(outcome.title)
    states = [p.state for p in outcome.plaques]
    stops = list_stopping(outcome.findings, "order")
    going, held = len(states) - states.count("stopped"), states.count("stopped")
    thick = state(units.show(blank.thickness), THICKNESS) if blank.thickness else "not stated in the order"
    sizes = state(f"{units.format_number(blank.width)} × {units.show(blank.height)}", describe_blank_origin(blank))
    facts = [
        ("Pieces", f"{state(plan.pieces, COUNTED)}, of {state(count_noun(going, 'plaque'), COUNTED)}"),
        ("Held back", f"{state(count_noun(held, 'plaque'), COUNTED)}, see check.xlsx" if held else "none"),
        ("Blank", f"{sizes}, {describe_blank_kind(blank)}"),
        ("Thickness under the cutter", thick),
    ]
    facts.append(("Material", describe_material(order)))
    if plan.boards is not None and plan.boards.boards:
        facts.append(("Boards", _describe_board_count(plan)))
    if plan.jigs is not None and plan.jigs.loads:
        facts.append(
            (
                "Jig loads",
                f"{state(len(plan.jigs.loads), LOADS)}, of up to {state(len(plan.jigs.places), LOADS)} pieces",
            )
        )
    if order.spare.blanks or order.spare.test_piece:
        facts.append(("Blanks to have ready", _describe_blanks(plan, folder)))
    if plan.thickness is not None:
        facts.append(("Finished thickness", state(units.show(plan.thickness.finished), "see Thickness")))
    if not stops:
        facts.append(
            ("Work, estimated", f"{state(format_minutes(plan.estimate.minutes), 'see Time and cost')} for all")
        )
    if plan.movement is not None:
        told = "wider" if plan.movement > 0 else "narrower"
        moved = state(units.show(abs(plan.movement)), describe_movement_origin(order))
        facts.append(("Movement until it hangs", f"{moved} {told} across the grain"))
    book.add_facts(facts, 3)
    on_sheet = [p.recipient.row for p in outcome.plaques if p.state != "stopped"]
    said = (count_rows(outcome, {"on this sheet": on_sheet}).describe(), describe_left_out(outcome))
    book.add_note(" ".join(filter(None, said)), styles.SMALL)
    if stops:
        book.add_caution("Nothing in this order may be cut: the first point below stops every plaque.")
    first = [f for f in outcome.findings if f.code.partition(".")[0] in FLOOR and f.severity is not Severity.NOTE]
    for finding in sorted(first, key=lambda f: f.severity.rank):
        book.add_caution(
            f"First: {format_message(finding, order.unit)} [{finding.code}] {format_remedy(finding, order.unit)}."
        )


def count_noun(number: int, what: str) -> str:
    """'1 plaque', '3 plaques'."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def describe_blank_kind(blank: Blank) -> str:
    """Its drawing, or its shape."""
    return blank.source if blank.sha256 else blank.source.partition(" ")[0]


def describe_material(order: Order) -> str:
    """The material in the maker's words, and what of the shelf it is taken for."""
    material = get_material(order)
    if not material.name:
        return "not stated: nothing is assumed"
    if not material.known:
        return f"{material.name}: not on the shelf, nothing is assumed"
    return (
        material.name
        if material.family in ("", *material.name.casefold().split(), material.name)
        else f"{material.name} ({material.family})"
    )


def _describe_blanks(plan: ShopPlan, folder: OrderFolder) -> str:
    spare = folder.order.spare
    told = state(plan.pieces, COUNTED)
    if spare.blanks:
        own = state(spare.blanks, get_source(spare, "blanks"))
        both = state(plan.pieces + spare.blanks, say_computed("pieces and spare blanks"))
        told = f"{both}: {told} + {own} spare"
    return told + (", and an offcut for the test piece" if spare.test_piece else "")


def _describe_board_count(plan: ShopPlan) -> str:
    counts: dict[str, int] = {}
    for b in require_value(plan.boards, "the layout of the boards").boards:
        counts[b.layout.sheet.name] = counts.get(b.layout.sheet.name, 0) + 1
    return ", ".join(f"{state(n, 'see Boards')} × {name}" for name, n in counts.items())


def _draw_operations(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    book.add_heading("Order of work")
    steps = list_operations(plan, folder.order)
    own = (words.RESIN, words.SAW)  # these have their own cards
    book.add_cautions(words.merge_cautions(c for step in steps for c in step.cautions if c not in own))
    columns = [
        TableColumn("", 0.06, style=styles.NAME, names=True),
        TableColumn("Step", 0.18),
        TableColumn("What", 0.76),
    ]
    book.add_table(columns, [(str(k), s.name, s.what) for k, s in enumerate(steps, 1)])


def _draw_cutters(book: ShopPages, outcome: Outcome, folder: OrderFolder, plan: ShopPlan) -> None:
    book.add_heading("Cutters, in order of use")
    draw_cutter_table(book, folder.order, plan)
    book.add_paragraph(_describe_zero(outcome, plan))
    holding = words.HOLDING_JIG if plan.jigs is not None else words.HOLDING_BLANK
    holding = words.HOLDING_BOARD if plan.boards is not None else holding
    book.add_paragraph(words.describe_holding(holding, plan.cutter))


def _describe_zero(outcome: Outcome, plan: ShopPlan) -> str:
    """Describe the zero point of the machine."""
    corner = bool((np.abs(outcome.blank.edge.vertices[:, :2]).max(axis=1) < 1e-6).any())
    where = words.ZERO_CORNER if corner else words.ZERO_BLANK
    if plan.boards is not None:
        where = words.ZERO_BOARD
    elif plan.jigs is not None:
        where = words.ZERO_JIG
    return f"{where} {words.FOCUS if plan.cutter.burns and plan.pocket is None else words.ZERO_Z}"


def _draw_time(book: ShopPages, told: TimeEstimate, rates: RatesConfig, steps: Sequence[Operation]) -> None:
    book.add_heading("Time and cost", keep=50)
    columns = [
        TableColumn("Work", 0.24),
        TableColumn("By", 0.1),
        TableColumn("All", 0.12, right=True),
        TableColumn("A piece", 0.12, right=True),
        TableColumn("Made from", 0.42, style=styles.QUIET, tells=True),
    ]
    rows: list[tuple[str, ...]] = [
        (i.name, i.kind, format_minutes(i.minutes), f"{told.divide_by_pieces(i.minutes) or 0:.1f} min", i.how)
        for i in told.items
    ]
    rows.append(
        (
            "Together",
            "",
            format_minutes(told.minutes),
            f"{told.divide_by_pieces(told.minutes) or 0:.1f} min",
            "all rows",
        )
    )
    book.add_table(columns, rows)
    if untimed := [step.name[:1].lower() + step.name[1:] for step in steps if not step.timed]:
        book.add_note(f"{words.UNTIMED} {', '.join(untimed)}. {words.ADD_OWN}", styles.SMALL)
    if told.cost is not None:

        def format_money(value: float | None, inputs: str) -> str:
            if value is None:
                return "no price in the order"
            return state(f"{value:.2f} {told.currency}".strip(), say_computed(inputs))

        book.add_facts(
            [
                ("Work", format_money(told.work_cost, "the times above, hour and machine_hour of [rates]")),
                ("Boards", format_money(told.stock_cost, "the area of the boards and stock_price of [rates]")),
                ("Resin", format_money(told.resin_cost, "the mix with its waste and resin_price of [rates]")),
                ("Together", format_money(told.cost, "the others")),
                ("A piece", format_money(told.divide_by_pieces(told.cost), "the others")),
            ],
            5,
        )
    book.add_note(f"{words.ESTIMATE} Times are computed as each row says. {describe_rates_origins(rates)}")


def describe_rates_origins(rates: RatesConfig) -> str:
    """Describe where the rates come from: those that are entered by name, the others together."""
    told: dict[str, list[str]] = {}
    for key in type(rates).model_fields:
        if (source := get_source(rates, key)) in ("order.toml", *rates.taken.values()):
            told.setdefault(source, []).append(key)
    entered = "".join(f" {', '.join(keys)}: {source};" for source, keys in told.items())
    return f"Rates:{entered} {'all others' if entered else 'all'}: {PRACTICE}."
