"""The order file of a first order: every choice with its reason, what is unsure marked."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.units import UnitName
from pipeline.intake.carried_design import CarriedTables, EarlierDesign, carry_list_keys
from pipeline.intake.design_columns import MatchedColumns
from pipeline.intake.drawing.layer_guess import GuessedBlank
from pipeline.intake.new_blank import StartingSizes, choose_starting_sizes, find_largest_zone, list_blank_lines
from pipeline.intake.new_order import BADGE, CHECK, ListChoice, NewOrderPlan, clean_text
from pipeline.intake.order.toml_text import format_key, format_toml, format_value
from pipeline.intake.recipients.headings import COPIES, LANGUAGE

MOST_LINES = 4
LINE_ORDER = ("award", "text", "post", "school", "season")

TRACKING = 25


def write_order_text(
    plan: NewOrderPlan, units: UnitName = "mm", shop_file: str = "", drawn: GuessedBlank | None = None
) -> str:
    """Return the text of the order file, each choice with its reason. It is ready to run.

    units: those of its lengths. shop_file: path of the shop file from the order folder; empty: there is none.
    drawn: the blank of a drawing; None: a plain plate.
    """
    sizes = choose_starting_sizes(drawn, units)
    rows = _list_job_rows(plan, units, shop_file, [("# A first order, made from the list. It runs as it is:", "")])
    rows += list_blank_lines(drawn, sizes, units)
    rows += [
        ("", ""),
        ("[cutter]", ""),
        ('use = "vbit-60"', f"{CHECK}: `plaques cutters` lists them"),
    ]
    rows += _list_artwork_rows(plan, sizes)
    rows += _list_line_rows(
        plan, sizes, "" if drawn is None or len(drawn.blank.zones) == 1 else find_largest_zone(drawn)[0]
    )
    return _format_rows(rows)


def write_carried_order(
    plan: NewOrderPlan, design: EarlierDesign, matched: MatchedColumns, tables: CarriedTables, shop_file: str = ""
) -> str:
    """Return the text of an order with the design of an earlier one. plan: of the list, with the columns that matched.
    It is ready to run if no column is missing."""
    runs = "It runs as it is:" if not matched.missing else "The list lacks a column that it needs, marked below. Then:"
    intro = [(clean_text(f"# A new order with the design of {design.name}.", 300), ""), (f"# {runs}", "")]
    more = [
        (f"{key} = {format_value(value)}", f"{CHECK}: as in the earlier order")
        for key, value in carry_list_keys(design, matched).items()
    ]
    missing = [
        f"{key}: the list has no column for it; write its heading into columns, or take {{{key}}} out of the design"
        for key in matched.missing
    ]
    rows = _list_job_rows(plan, design.order.order.units, shop_file, intro, more=more, missing=missing)
    return f"{_format_rows(rows)}\n{tables.text}"


def _format_rows(rows: Sequence[tuple[str, str]]) -> str:
    return "\n".join(f"{text:30}  # {said}" if said else text for text, said in rows) + "\n"


def _list_job_rows(
    plan: NewOrderPlan,
    units: UnitName,
    shop_file: str,
    intro: Sequence[tuple[str, str]],
    *,
    more: Sequence[tuple[str, str]] = (),
    missing: Sequence[str] = (),
) -> list[tuple[str, str]]:
    """List title, client, unit and [list], each line with its comment. more: further keys of [list]; missing: what the
    design needs and the list lacks, in words."""
    columns = ", ".join(f"{format_key(key)} = {choice.value}" for key, choice in plan.columns)
    rows: list[tuple[str, str]] = [
        *intro,
        ("#   plaques check .   checks it and asks what an engraver would ask", ""),
        ("#   plaques run .     also writes the cut files, the proof and the shop sheet", ""),
        (f"# Lines marked “{CHECK}” are guesses or starting points.", ""),
        *(
            [(f"# Keys missing here are taken from {clean_text(shop_file)}; values given here win.", "")]
            if shop_file
            else []
        ),
        ("", ""),
        (f"title  = {format_toml(plan.title.value)}", _describe_choice(plan.title)),
        ('client = ""', f"{CHECK}: who the job is for"),
        (
            f'units  = "{units}"',
            "every length in this file; " + ('"in" for inches' if units == "mm" else '"mm" for mm'),
        ),
        ("", ""),
        ("[list]", ""),
        (f"file    = {format_toml(plan.list_name)}", ""),
    ]
    if plan.sheet is not None:
        rows.append((f"sheet   = {format_toml(plan.sheet.value)}", _describe_choice(plan.sheet)))
    if plan.area is not None:
        rows.append((f"area    = {format_toml(plan.area.value)}", _describe_choice(plan.area)))
    none = "" if plan.header.value != "0" else "; 0 means no headings, so columns are named by their letters"
    rows.append((f"header  = {plan.header.value}", _describe_choice(plan.header) + none))
    rows.append((f"columns = {{ {columns} }}", ""))
    rows += more
    if plan.guessed or missing:
        place = "header and columns" if plan.sheet is None or plan.sheet.sure else "sheet, header and columns"
        rows.append(("guessed = true", f"{CHECK}: delete this line once {place} are right"))
    rows += [(f"#   {clean_text(key)}: {_describe_choice(choice)}", "") for key, choice in plan.columns]
    rows += [(f"#   {CHECK}: {clean_text(words, 300)}", "") for words in missing]
    if plan.unused:
        shown = ", ".join(f"“{clean_text(word)}”" for word in plan.unused[:12])
        rows.append((f"#   not used: {shown}", ""))
    rows += [(f"#   not used, because it has no heading: {words}", "") for words in plan.nameless]
    return rows


def _describe_choice(choice: ListChoice) -> str:
    return ("" if choice.sure else f"{CHECK}: ") + clean_text(choice.why, 300)


def _list_artwork_rows(plan: NewOrderPlan, sizes: StartingSizes) -> list[tuple[str, str]]:
    """List the badges, at the right of the plate."""
    if plan.badge is None:
        return []
    size = round(sizes.height / 3, 2)
    x, y = round(sizes.width - sizes.margin - size / 2, 2), round(sizes.height / 2, 2)
    return [
        ("", ""),
        ("[[artwork]]", ""),
        (f'file  = "{{{BADGE}}}{plan.badge.suffix}"', f"{CHECK}: {plan.badge.choice.why}; an empty cell: none"),
        (f"at    = [{x}, {y}]", f"{CHECK}: its centre, from the lower left corner"),
        (f"width = {size}", CHECK),
    ]


def _list_line_rows(plan: NewOrderPlan, sizes: StartingSizes, zone: str) -> list[tuple[str, str]]:
    """List the lines. zone: theirs, where the blank has several."""
    keys = [key for key, _ in plan.columns if key not in (COPIES, LANGUAGE, "name", BADGE)]
    shown = ["name", *[key for key in LINE_ORDER if key in keys], *[key for key in keys if key not in LINE_ORDER]]
    out = []
    for number, key in enumerate(shown[:MOST_LINES]):
        first = number == 0
        cap, smallest = sizes.line_cap_height, sizes.line_smallest
        if first:
            cap, smallest = sizes.cap_height, sizes.smallest
        out += [
            ("", ""),
            ("[[line]]", ""),
            (f'text       = "{{{key}}}"', ""),
            (f"face       = {format_toml(plan.faces[0])}", f"{CHECK}: `plaques faces` lists them" if first else ""),
        ]
        if zone:
            out.append(
                (f"zone       = {format_toml(zone)}", f"{CHECK}: the largest zone of the drawing" if first else "")
            )
        if len(plan.faces) > 1:
            out.append((f"also       = {_format_list(plan.faces[1:])}", "for letters missing from the first typeface"))
        out += [
            (f"cap_height = {cap}", CHECK),
            (
                f"smallest   = {smallest}",
                "a text that is too long may be set this small, but no smaller" if first else "",
            ),
            (f"tracking   = {TRACKING}", "slightly open, in thousandths of an em" if first else ""),
            ("tightest   = 0", "it may be tightened to this before it is set smaller" if first else ""),
            (f"breaks     = {2 if first else 1}", "a long name may be broken into this many lines" if first else ""),
        ]
    if plan.unset:
        missing = ", ".join(plan.unset)
        out += [("", ""), (f"# {CHECK}: no typeface on the shelf has {missing}: put a font file into this folder", "")]
    return out


def _format_list(words: Sequence[str]) -> str:
    return "[" + ", ".join(map(format_toml, words)) + "]"
