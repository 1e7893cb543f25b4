"""Consistency rules between the keys of the lines: opposite texts, tied baselines, spacing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from graphlib import CycleError, TopologicalSorter

from pipeline.core.config.order import LineConfig
from pipeline.core.errors import Fault
from pipeline.intake.order.error_messages import FaultPlaces, find_nearest_name


def list_line_faults(number: int, line: LineConfig, places: FaultPlaces) -> Iterator[Fault]:
    """List the faults of one line by itself. number: counts from 0."""

    def locate_key(key: str) -> str:
        return places("line", number, key)

    if "tightest" in line.model_fields_set and line.tightest > line.tracking:
        yield Fault(
            where=locate_key("tightest"),
            found=f"tightest {line.tightest} is looser than tracking {line.tracking}",
            expected="at most tracking: it says how far the line may be tightened",
        )
    if line.loosest and line.loosest < line.tracking:
        yield Fault(
            where=locate_key("loosest"),
            found=f"loosest {line.loosest} is tighter than tracking {line.tracking}",
            expected="at least tracking, which it lets the line be opened from; or 0 to keep the spacing",
        )
    if line.opposite is not None:
        yield from _check_opposite(line, locate_key("opposite"), locate_key("align"))
    elif line.leader is not None:
        yield Fault(
            where=locate_key("leader"),
            found="there is nothing opposite for it to lead to",
            expected='opposite = "…" beside it',
            remedy="add opposite, or take leader out",
        )
    if line.leader is not None and not line.leader.strip():
        yield Fault(where=locate_key("leader"), found="only spaces", expected='a character such as "."')
    if line.arc is not None and "vertical" in line.model_fields_set:
        yield Fault(
            where=locate_key("vertical"),
            found="a line on an arc lies where the arc is",
            remedy="take vertical out, or change the arc's radius",
        )


def _check_opposite(line: LineConfig, where: str, align: str) -> Iterator[Fault]:
    if line.arc is not None:
        yield Fault(
            where=where,
            found="a line on an arc has no opposite edge",
            remedy="take opposite out, or make it a line of its own",
        )
    if "align" in line.model_fields_set and line.align == "centre":
        yield Fault(
            where=align,
            found="a centred line leaves no edge for its opposite text",
            expected='"left" (opposite stands at the right) or "right"',
        )


def list_tie_faults(lines: Sequence[LineConfig | None], places: FaultPlaces) -> Iterator[Fault]:
    """List the faults between lines: names given twice, baselines tied to nothing, zones whose lines disagree. None for
    a line that has other faults."""
    named: dict[str, int] = {}
    for number, line in enumerate(lines):
        if line is None or line.name is None:
            continue
        if line.name in named:
            yield Fault(
                where=places("line", number, "name"),
                found=f"“{line.name}” is already the name of line {named[line.name] + 1}",
                expected="a name of its own for each line",
            )
        named.setdefault(line.name, number)
    yield from _check_ties(lines, named, places)
    yield from _check_vertical(lines, places)


def _check_ties(lines: Sequence[LineConfig | None], named: dict[str, int], places: FaultPlaces) -> Iterator[Fault]:
    blocks: dict[tuple[str | None, str], set[tuple[str | None, str]]] = {}
    for number, line in enumerate(lines):
        if line is None or line.baseline_with is None:
            continue
        where, other = places("line", number, "baseline_with"), None
        if line.baseline_with in named:
            other = lines[named[line.baseline_with]]
        elif all(each is not None for each in lines):
            yield Fault(
                where=where,
                found=f"no line is named “{line.baseline_with}”",
                expected='the `name` of a line: name = "…"',
                remedy=find_nearest_name(line.baseline_with, list(named)) if named else "give that line a name",
            )
        if line.arc is not None or (other is not None and other.arc is not None):
            yield Fault(where=where, found="a line on an arc has no straight baseline", remedy="take baseline_with out")
        elif other is not None:
            one, two = (line.zone, line.side), (other.zone, other.side)
            if one == two:
                yield Fault(
                    where=where,
                    found=f"line {number + 1} and “{line.baseline_with}” are in the same zone",
                    expected="a line of another zone: lines of one zone are set one below the other",
                )
            elif line.side != other.side:
                yield Fault(where=where, found=f"“{line.baseline_with}” is on the other side of the blank")
            else:
                blocks.setdefault(one, set()).add(two)
                if _has_cycle(blocks):
                    yield Fault(
                        where=where,
                        found="the two zones are tied to each other",
                        expected="ties in one direction: one zone decides, the other follows",
                    )
                    blocks[one].discard(two)


def _has_cycle(blocks: dict[tuple[str | None, str], set[tuple[str | None, str]]]) -> bool:
    try:
        TopologicalSorter(blocks).prepare()
    except CycleError:
        return True
    return False


def _check_vertical(lines: Sequence[LineConfig | None], places: FaultPlaces) -> Iterator[Fault]:
    first: dict[tuple[str | None, str], tuple[int, LineConfig]] = {}
    for number, line in enumerate(lines):
        if line is None or line.arc is not None:
            continue
        before, one = first.setdefault((line.zone, line.side), (number, line))
        if line.vertical != one.vertical:
            yield Fault(
                where=places("line", number, "vertical"),
                found=f"“{line.vertical}”, but line {before + 1} in the same zone has “{one.vertical}”",
                expected="the same for all lines of a zone: they are set in it as one block",
            )
