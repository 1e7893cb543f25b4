"""Options of a job side by side, for the talk with a client about budget and date."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.config.order import OrderFolder
from pipeline.core.findings import Severity
from pipeline.core.model import Outcome, Plaque
from pipeline.outputs.summary import strip_markup
from pipeline.shopfloor.shop_plan import ShopPlan

WIDTH = 34
"""Most characters of a column."""
ACROSS = 100
"""Columns of the longest line below the table."""
MOST, LONGEST = 6, 48
"""Names told of one reason, and characters of one name."""
FIT = "fit.too-long"
WORDS = {FIT: "name does not fit"}
"""Reasons that a client asks for by name; the others are told by their code."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderOption:
    """One order, run but not written."""

    name: str
    folder: OrderFolder
    outcome: Outcome
    plan: ShopPlan
    findings: tuple[str, ...]  # codes of the whole order's stops and questions


def format_minutes(value: float) -> str:
    whole = round(value)
    return f"{whole} min" if whole < 100 else f"{whole // 60} h {whole % 60:02d}"


def collect_reasons(option: OrderOption, severity: Severity) -> dict[str, list[str]]:
    """Why plaques are stopped, or asked about: code -> names as the list has them, most frequent reasons first. A
    plaque with two reasons stands under both."""
    found: dict[str, list[str]] = {}
    for p in option.outcome.plaques:
        if p.state == ("stopped" if severity is Severity.STOP else "ask"):
            for code in dict.fromkeys(f.code for f in p.findings if f.severity is severity):
                found.setdefault(code, []).append(_name_plaque(p))
    return dict(sorted(found.items(), key=lambda item: (-len(item[1]), item[0])))


def _name_plaque(plaque: Plaque) -> str:
    """Name a plaque as it would be cut; a row that could not be read, by its number and what stands there."""
    if plaque.recipient.get_value(plaque.recipient.named).strip():
        return plaque.name
    raw = plaque.name
    return f"row {plaque.recipient.row}" + (f" ({raw})" if raw.strip() else "")


def compute_option_figures(option: OrderOption) -> dict[str, Any]:
    """Compute the compared figures as plain values: mm, minutes, ml, the order's currency. None: the order has no such
    figure."""
    plan, states = option.plan, [p.state for p in option.outcome.plaques]
    told, going = plan.estimate, plan.pieces > 0  # no figures for an option that can't be cut
    return {
        "order": option.name,
        "title": option.outcome.title,
        "pieces": plan.pieces,
        "plaques": len(states),
        "ready": states.count("ready"),
        "ask": states.count("ask"),
        "stopped": states.count("stopped"),
        "too_long": collect_reasons(option, Severity.STOP).get(FIT, []),
        "stopped_for": collect_reasons(option, Severity.STOP),
        "asked_for": collect_reasons(option, Severity.ASK),
        "minutes": round(told.minutes, 1) if going else None,
        "minutes_each": _round(told.divide_by_pieces(told.minutes)),
        "machine_minutes": round(told.machine, 1) if going else None,
        "hand_minutes": round(told.hand, 1) if going else None,
        "boards": None if plan.boards is None or not going else len(plan.boards.boards),
        "loads": None if plan.jigs is None or not going else len(plan.jigs.loads),
        "board_share": None if plan.boards is None or not going else round(plan.boards.share, 4),
        "resin_ml": None if plan.pour is None or not going else round(plan.pour.with_waste, 1),
        "pour_hours": None if plan.pour is None or not going else plan.pour.hours,
        "finished": None if plan.thickness is None else round(plan.thickness.finished, 3),
        "cost": _round(told.cost) if going else None,
        "cost_each": _round(told.divide_by_pieces(told.cost)),
        "currency": told.currency,
        "findings": list(option.findings),
    }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def list_option_rows(options: Sequence[OrderOption]) -> list[tuple[str, list[str]]]:
    """The table, row by row; a row nobody has anything to say to is left out."""
    facts = [compute_option_figures(o) for o in options]

    def format_money(value: float | None, currency: str) -> str:
        return "" if value is None else f"{value:.2f} {currency}".strip()

    units = [o.folder.order.unit for o in options]
    rows = [
        ("pieces", [str(f["pieces"]) for f in facts]),
        ("ready", [str(f["ready"]) for f in facts]),
        ("with a question", [str(f["ask"]) for f in facts]),
        *_count_reasons([f["asked_for"] for f in facts]),
        ("cannot be cut", [str(f["stopped"]) for f in facts]),
        *_count_reasons([f["stopped_for"] for f in facts]),
        *(
            (name, ["" if f[key] is None else format_minutes(f[key]) for f in facts])
            for name, key in (
                ("work", "minutes"),
                ("  by the machine", "machine_minutes"),
                ("  by hand", "hand_minutes"),
            )
        ),
        ("  a piece", ["" if f["minutes_each"] is None else f"{f['minutes_each']:.1f} min" for f in facts]),
        ("boards", ["" if f["boards"] is None else f"{f['boards']} ({100 * f['board_share']:.0f} %)" for f in facts]),
        ("jig loads", ["" if f["loads"] is None else str(f["loads"]) for f in facts]),
        ("resin", ["" if f["resin_ml"] is None else f"{f['resin_ml']:.0f} ml" for f in facts]),
        ("  waiting for it", ["" if f["pour_hours"] is None else f"{f['pour_hours']:g} h" for f in facts]),
        (
            "finished thickness",
            ["" if f["finished"] is None else u.show(f["finished"]) for f, u in zip(facts, units, strict=True)],
        ),
        ("cost", [format_money(f["cost"], f["currency"]) for f in facts]),
        ("  a piece", [format_money(f["cost_each"], f["currency"]) for f in facts]),
        ("to put right first", [", ".join(f["findings"]) for f in facts]),
    ]
    return [(name, cells) for name, cells in rows if any(cells)]


def _count_reasons(found: Sequence[dict[str, list[str]]]) -> list[tuple[str, list[str]]]:
    """Count the plaques that each reason holds up, by option."""
    codes = sorted({c for each in found for c in each}, key=lambda c: (-max(len(f.get(c, ())) for f in found), c))
    return [(f"  {WORDS.get(code, code)}", [str(len(f.get(code, ()))) for f in found]) for code in codes]


def _count_held_up(options: Sequence[OrderOption]) -> list[str]:
    """Describe what can't be cut and why; a reason that several options share is given once."""
    told: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for option in options:
        for code, names in collect_reasons(option, Severity.STOP).items():
            told.setdefault((code, tuple(names)), []).append(option.name)
    lines = []
    for (code, held), where in told.items():
        shown = [_shorten_name(name) for name in held[:MOST]] + (
            [f"+{len(held) - MOST} more"] if len(held) > MOST else []
        )
        place = "" if len(where) == len(options) else f" in {', '.join(where)}"
        text = f"{WORDS.get(code, code)}{place} ({len(held)}): {' · '.join(shown)}"
        lines.append(
            textwrap.fill(
                strip_markup(text),
                ACROSS,
                initial_indent="  ",
                subsequent_indent="    ",
                break_long_words=False,
                break_on_hyphens=False,
            )
        )
    return ["", "Cannot be cut", *lines] if lines else []


def _shorten_name(name: str) -> str:
    return name if len(name) <= LONGEST else f"{name[: LONGEST - 1].rstrip()}…"


def format_option_table(options: Sequence[OrderOption]) -> str:
    """The comparison for a terminal, with what it rests on."""
    names = [o.name for o in options]
    rows = list_option_rows(options)
    first = max(len(name) for name, _ in rows)
    wide = [min(WIDTH, max(len(names[k]), *(len(cells[k]) for _, cells in rows))) for k in range(len(options))]

    def format_line(name: str, cells: Sequence[str]) -> str:
        shown = [c if len(c) <= w else c[: w - 1] + "…" for c, w in zip(cells, wide, strict=True)]
        return "  ".join([name.ljust(first), *(c.ljust(w) for c, w in zip(shown, wide, strict=True))]).rstrip()

    out = [format_line("", names), format_line("", ["-" * w for w in wide])]
    out += [format_line(name, cells) for name, cells in rows]
    out += _count_held_up(options)
    out += ["", "Times and costs are estimates from each order's [rates]; `shop.pdf` of a run says how they are made."]
    return "\n".join(out)
