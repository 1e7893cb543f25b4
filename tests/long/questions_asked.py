"""How many questions reach the client, and how much of the advice works: two orders of invented clubs, and a hundred
stopped or questioned plaques of ten designs.

`python -m tests.long.questions_asked` prints both tables; `python -m tests.long.questions_asked medals` one order.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.design_faults import find_crowded_lines, is_design_fault
from pipeline.core.findings import Severity
from pipeline.core.language.client_texts import load_client_texts
from pipeline.outputs.client_questions import ClientQuestion, build_client_questions
from pipeline.run import RunResult, run_order
from tests.advised import MadeUp

FIRST = (
    "Alba", "Bram", "Cato", "Dora", "Edwin", "Freya", "Gwen", "Hugo", "Ilse", "Jory", "Kezia", "Lorne", "Merle", "Nils",
    "Odette", "Piers", "Quill", "Rhona", "Saul", "Tamsin",
)  # fmt: skip
LAST = (
    "Anderby", "Brackenhall", "Coldstrand", "Dunmere", "Eastholm", "Fenwater", "Gullscar", "Hartwell", "Inglemoor",
    "Kelderby", "Larkhill", "Marrowdale", "Northcote", "Oakshaw", "Penhallow", "Quarrington", "Ravensby", "Saltram",
    "Thornaby", "Wetherlam",
)  # fmt: skip
EVENTS = ("50 m freestyle", "100 m backstroke", "4 × 50 m relay")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def invented_name(rng: random.Random, words: int = 2) -> str:
    """Invent a name of two words or more."""
    return " ".join([rng.choice(FIRST), *(rng.choice(LAST) for _ in range(words - 1))])


def swimming_medals(rng: random.Random, count: int = 60) -> MadeUp:
    """Medals of 50 mm by event: many swim in two events, which isn't a duplicate. Times and lanes are the club's
    notes."""
    rows = [["Swimmer", "Event", "Place", "Lane"]]
    for n in range(count):
        name = rows[-1][0] if n % 5 == 4 else invented_name(rng)  # the same swimmer in the next event
        rows.append([name, EVENTS[n % 3], ("1st", "2nd", "3rd")[n % 3], str(1 + n % 6)])
    lines = [
        {"text": "{name}", "face": "roboto-slab", "cap_height": 4.0, "smallest": 2.5, "breaks": 2},
        {"text": "{event}", "face": "noto-sans", "cap_height": 3.0, "smallest": 2.2, "space_before": 2.0},
        {"text": "{place}", "face": "roboto-slab", "cap_height": 4.0, "space_before": 2.0},
    ]
    return MadeUp(
        {
            "title": "Coldstrand Swimming Gala",
            "client": "Coldstrand Swimming Club",
            "list": {"file": "list.csv", "columns": {"name": "Swimmer", "event": "Event", "place": "Place"}},
            "blank": {"shape": "disc", "diameter": 50.0, "thickness": 3.0, "margin": 3.0},
            "cutter": {"use": "point-fine"},
            "limits": {"deepest": 0.15},
            "stock": {"material": "brass"},
            "proof": {"noun": {"one": "medal", "many": "medals"}, "shop": "Saltmarsh Workshop"},
            "line": lines,
        },
        rows,
    )


def brass_plates(rng: random.Random, count: int = 30) -> MadeUp:
    """Plates with two dates each, typed as people type dates."""
    rows = [["Name", "Born", "Died"]]
    for _ in range(count):
        born, died = rng.randint(1931, 1959), rng.randint(1995, 2024)
        dates = [f"{rng.randint(13, 28)}/{rng.randint(1, 12)}/{year}" for year in (born, died)]
        rows.append([invented_name(rng), *dates])
    lines = [
        {"text": "{name}", "face": "roboto-slab", "cap_height": 6.0, "smallest": 4.0},
        {"text": "{born} to {died}", "face": "noto-sans", "cap_height": 4.0, "smallest": 3.0, "space_before": 3.0},
    ]
    return MadeUp(
        {
            "title": "Bench plates",
            "client": "Friends of Larkhill Park",
            "list": {"file": "list.csv", "columns": {"name": "Name", "born": "Born", "died": "Died"}},
            "blank": {"shape": "rectangle", "width": 120.0, "height": 40.0, "thickness": 1.6, "margin": 4.0},
            "cutter": {"use": "point-fine"},
            "limits": {"deepest": 0.2},
            "stock": {"material": "brass"},
            "proof": {"noun": {"one": "plate", "many": "plates"}, "shop": "Saltmarsh Workshop"},
            "jig": {"columns": 3, "rows": 2, "across": 130.0, "up": 50.0},
            "line": lines,
        },
        rows,
    )


DESIGNS: tuple[dict[str, Any], ...] = (
    {"face": "eb-garamond", "cap_height": 5.0},
    {"face": "eb-garamond", "cap_height": 3.5},
    {"face": "roboto-slab", "cap_height": 9.0},
    {"face": "roboto-slab", "cap_height": 8.0, "smallest": 6.5},
    {"face": "noto-sans", "cap_height": 10.0, "smallest": 8.0},
    {"face": "noto-sans", "cap_height": 2.0},
    {"face": "noto-sans", "cap_height": 7.0, "breaks": 1},
    {"face": "eb-garamond", "cap_height": 9.0, "smallest": 8.0},
    {"face": "roboto-slab", "cap_height": 3.0, "tracking": -10},
    {"face": "noto-sans", "cap_height": 6.5, "smallest": 5.5},
)
"""A line of each design: too fine, too large, or right for most."""


def troubled(rng: random.Random, line: dict[str, Any], count: int = 30) -> MadeUp:
    """An order of one design, with names of two to four words, some typed twice or all in capitals."""
    names = [invented_name(rng, rng.choice((2, 2, 2, 3, 3, 4))) for _ in range(count)]
    names[1], names[-1] = names[1].upper(), names[0]
    return MadeUp(
        {
            "title": "Plates",
            "list": {"file": "list.csv", "columns": {"name": "Name"}},
            "blank": {"shape": "rectangle", "width": 110.0, "height": 40.0, "thickness": 12.0, "margin": 3.0},
            "cutter": {"use": "vbit-60"},
            "stock": {"material": "oak"},
            "line": [{"text": "{name}", **line}],
        },
        [["Name"], *([name] for name in names)],
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """The results of an order. one_by_one: findings on plaques that would each be a question; tried, right: ways
    with an edit that were followed, and those that then worked."""

    plaques: int
    troubled: int
    one_by_one: int
    questions: int
    for_maker: int
    tried: int = 0
    right: int = 0


def count_asked(made: MadeUp, folder: Path, *, follow: bool) -> Asked:
    """Run an order and count; follow: try each way offered for its design in a separate order file."""
    done = run_order(made.write(folder / "first"), files=False)
    asked = _questions(done)
    crowded = find_crowded_lines(done.outcome.plaques)
    waiting = [p for p in done.outcome.plaques if p.state != "ready"]
    found = [f for p in waiting for f in p.findings if f.severity is not Severity.NOTE]
    faults = [f for f in found if is_design_fault(f, crowded)]
    tried = right = 0
    for fault in done.outcome.design if follow else ():
        for n, way in enumerate(way for way in fault.ways if way.edits):
            tried += 1
            again = run_order(made.with_edits(way.edits).write(folder / f"{fault.line}-{n}"), files=False)
            right += all(f.line != fault.line for f in again.outcome.design)
    return Asked(
        plaques=len(done.outcome.plaques), troubled=len(waiting), one_by_one=len(found), questions=len(asked),
        for_maker=len(faults), tried=tried, right=right,
    )  # fmt: skip


def _questions(done: RunResult) -> tuple[ClientQuestion, ...]:
    order = done.folder.order
    words = load_client_texts(order)
    return build_client_questions(done.outcome, words.localise_units(order.unit), words)


def count_all(seed: int, designs: int, count: int = 30) -> Iterator[tuple[str, Asked]]:
    """Count the two orders, then that many designs, each in its own folder."""
    rng = random.Random(seed)
    orders = {"medals": swimming_medals(rng, 2 * count), "plates": brass_plates(rng, count)}
    orders |= {f"design {n}": troubled(rng, line, count) for n, line in enumerate(DESIGNS[:designs], 1)}
    for name, made in orders.items():
        with tempfile.TemporaryDirectory() as folder:
            yield name, count_asked(made, Path(folder), follow=True)


def main(only: str = "") -> None:
    """Print the table."""
    print(
        "order · plaques · stopped or asked · findings · of the design · questions to the client · advice tried, right"
    )
    told: list[Asked] = []
    for name, asked in count_all(19, 0 if only else len(DESIGNS)):
        if only and name != only:
            continue
        counts = (asked.plaques, asked.troubled, asked.one_by_one, asked.for_maker, asked.questions)
        print(f"{name}: {' · '.join(map(str, counts))} · {asked.tried}, {asked.right}", flush=True)
        told += [asked] if name.startswith("design") else []
    if told:
        sums = [sum(getattr(a, key) for a in told) for key in ("troubled", "one_by_one", "questions", "tried", "right")]
        print("all designs: {} plaques stopped or asked, {} findings, {} questions; advice {}, right {}".format(*sums))


if __name__ == "__main__":
    main(*sys.argv[1:2])
