"""Totals of the sizes of a line under each policy of `same_size`: counts, and which names hold the others down."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from pipeline.core.list_row import pack_rows
from pipeline.core.model import LineSizes, SizedName

POLICIES = ("all", "most", "each")
ALIKE = 1e-9  # mm; sizes closer than this are equal


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeHolder:
    """With same_size = "all": the names that set a size, and what the others could have without them (mm)."""

    size: float
    by: tuple[SizedName, ...]
    others: float | None  # None: there are no others


def count_sizes(line: LineSizes) -> dict[str, dict[float, int]]:
    """By policy: cap height (mm, the smallest first) to how many names would have it; not those that cannot be set."""
    most = Counter(name.most for name in line.names if name.most is not None)
    each = Counter(name.each for name in line.names if name.each is not None)
    everybody = {min(most): most.total()} if most else {}
    found = zip(POLICIES, (everybody, most, each), strict=True)
    return {policy: dict(sorted(count.items())) for policy, count in found}


def list_not_set(line: LineSizes) -> tuple[SizedName, ...]:
    """The names that fit under no policy."""
    return tuple(name for name in line.names if name.most is None and name.each is None)


def list_size_holders(line: LineSizes) -> tuple[SizeHolder, ...]:
    """The names smaller than designed, the smallest first: each step says what those left could have without it."""
    able = sorted((name for name in line.names if name.most is not None), key=lambda n: (n.most or 0.0, n.row))
    out = []
    while able and (size := able[0].most) is not None and size < line.designed - ALIKE:
        by = tuple(name for name in able if name.most is not None and name.most <= size + ALIKE)
        able = able[len(by) :]
        out.append(SizeHolder(size=size, by=by, others=able[0].most if able else None))
    return tuple(out)


def report_sizes(line: LineSizes) -> dict[str, Any]:
    """The table as plain values, ready for JSON; lengths mm."""
    return {
        "line": line.line,
        "same_size": line.same_size,
        "designed": line.designed,
        "policies": {
            policy: [{"cap_height": round(size, 6), "names": n} for size, n in found.items()]
            for policy, found in count_sizes(line).items()
        },
        "not_set": pack_rows(name.row for name in list_not_set(line)),
        "held_down": [
            {
                "cap_height": round(held.size, 6),
                "rows": pack_rows(name.row for name in held.by),
                "others": None if held.others is None else round(held.others, 6),
            }
            for held in list_size_holders(line)
        ],
    }
