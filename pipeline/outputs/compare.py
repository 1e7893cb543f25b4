"""Options of a job side by side, for the talk with a client about budget and date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.shopfloor.plan import ShopPlan

WIDTH = 34
"""Most characters of a column."""
FIT = "fit.too-long"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One order, run but not written."""

    name: str
    folder: OrderFolder
    outcome: Outcome
    plan: ShopPlan
    findings: tuple[str, ...]  # codes of the order's own stops and questions


def minutes(value: float) -> str:
    whole = round(value)
    return f"{whole} min" if whole < 100 else f"{whole // 60} h {whole % 60:02d}"


def too_long(option: Option) -> list[str]:
    """Names that do not fit, as the list has them."""
    return [
        p.text[0] if p.text else f"row {p.recipient.row}"
        for p in option.outcome.plaques
        if any(f.code == FIT for f in p.findings)
    ]


def figures(option: Option) -> dict[str, Any]:
    """What is compared, as plain values: mm, minutes, ml, the order's currency. None: the order has no such thing."""
    plan, states = option.plan, [p.state for p in option.outcome.plaques]
    told = plan.estimate
    return {
        "order": option.name,
        "title": option.outcome.title,
        "pieces": plan.pieces,
        "plaques": len(states),
        "ready": states.count("ready"),
        "ask": states.count("ask"),
        "stopped": states.count("stopped"),
        "too_long": too_long(option),
        "minutes": round(told.minutes, 1),
        "minutes_each": _round(told.each(told.minutes)),
        "machine_minutes": round(told.machine, 1),
        "hand_minutes": round(told.hand, 1),
        "boards": None if plan.boards is None else len(plan.boards.boards),
        "board_share": None if plan.boards is None else round(plan.boards.share, 4),
        "resin_ml": None if plan.pour is None else round(plan.pour.with_waste, 1),
        "pour_hours": None if plan.pour is None else plan.pour.hours,
        "finished": None if plan.thickness is None else round(plan.thickness.finished, 3),
        "cost": _round(told.cost),
        "cost_each": _round(told.each(told.cost)),
        "currency": told.currency,
        "findings": list(option.findings),
    }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def rows_of(options: Sequence[Option]) -> list[tuple[str, list[str]]]:
    """The table, row by row; a row nobody has anything to say to is left out."""
    facts = [figures(o) for o in options]

    def money(value: float | None, currency: str) -> str:
        return "" if value is None else f"{value:.2f} {currency}".strip()

    units = [o.folder.order.unit for o in options]
    rows = [
        ("pieces", [str(f["pieces"]) for f in facts]),
        ("ready, question, stopped", [f"{f['ready']}, {f['ask']}, {f['stopped']}" for f in facts]),
        ("names that do not fit", [str(len(f["too_long"])) for f in facts]),
        ("work", [minutes(f["minutes"]) for f in facts]),
        ("  by the machine", [minutes(f["machine_minutes"]) for f in facts]),
        ("  by hand", [minutes(f["hand_minutes"]) for f in facts]),
        ("  a piece", [f"{f['minutes_each'] or 0:.1f} min" for f in facts]),
        ("boards", ["" if f["boards"] is None else f"{f['boards']} ({100 * f['board_share']:.0f} %)" for f in facts]),
        ("resin", ["" if f["resin_ml"] is None else f"{f['resin_ml']:.0f} ml" for f in facts]),
        ("  waiting for it", ["" if f["pour_hours"] is None else f"{f['pour_hours']:g} h" for f in facts]),
        (
            "finished thickness",
            ["" if f["finished"] is None else u.show(f["finished"]) for f, u in zip(facts, units, strict=True)],
        ),
        ("cost", [money(f["cost"], f["currency"]) for f in facts]),
        ("  a piece", [money(f["cost_each"], f["currency"]) for f in facts]),
        ("to put right first", [", ".join(f["findings"]) for f in facts]),
    ]
    return [(name, cells) for name, cells in rows if any(cells)]


def table(options: Sequence[Option]) -> str:
    """The comparison for a terminal, with what it rests on."""
    names = [o.name for o in options]
    rows = rows_of(options)
    first = max(len(name) for name, _ in rows)
    wide = [min(WIDTH, max(len(names[k]), *(len(cells[k]) for _, cells in rows))) for k in range(len(options))]

    def line(name: str, cells: Sequence[str]) -> str:
        shown = [c if len(c) <= w else c[: w - 1] + "…" for c, w in zip(cells, wide, strict=True)]
        return "  ".join([name.ljust(first), *(c.ljust(w) for c, w in zip(shown, wide, strict=True))]).rstrip()

    out = [line("", names), line("", ["-" * w for w in wide])]
    out += [line(name, cells) for name, cells in rows]
    for option in options:
        missing = too_long(option)
        if missing:
            more = f", +{len(missing) - 6} more" if len(missing) > 6 else ""
            out += ["", f"Do not fit in {option.name}: {', '.join(missing[:6])}{more}"]
    out += ["", "Times and costs are estimates from [rates] of each order; `shop.pdf` of a run says how they are made."]
    return "\n".join(out)
