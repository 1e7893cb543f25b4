"""Random orders, and their advice followed: every way that the tool offers is typed into the order file or the list,
the order is run again, and the finding has to be gone.

None of the tool's own trials are used here: order.toml is written, with the edits in it, and read like any other.
"""

from __future__ import annotations

import csv
import json
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipeline.core.catalogue import format_message, format_remedy, get_kind
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Edit, Finding, Severity
from pipeline.run import RunResult, run_order

NAMES = (
    "Ada Kittiwake",
    "Bartholomew Featherstonehaugh-Cholmondeley",
    "Dr. Quentin Ashgrove and Mrs. Philippa Ashgrove",
    "Wilhelmina Elisabeth Schwarzenbrunn",
    "Björn Ærøskarv",
    "Maya and Teodoro Quill",
    "Nguyễn Thị Phượng",
    "Siobhan O'Quill",
    "Ida Vex",
    "Rufus 'Rusty' Marrowdale",
    "Анна Вересова",
    "The Saltmarsh Ringing Group",
)


def typed(value: Any) -> str:
    """Format a value as TOML."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {typed(v)}" for k, v in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(typed, value)) + "]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (str, bool)) else repr(value)


@dataclass
class MadeUp:
    """An order as in its file, and its list: header and rows."""

    order: dict[str, Any]
    rows: list[list[str]]
    drawing: Any = None  # writes the blank's drawing to a folder, if there is one

    def write(self, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        text = "".join(f"{key} = {typed(value)}\n" for key, value in self.order.items())
        (folder / "order.toml").write_text(text, encoding="utf-8")
        with (folder / "list.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(self.rows)
        if self.drawing is not None:
            self.drawing(folder)
        return folder

    def with_edits(self, edits: tuple[Edit, ...]) -> MadeUp:
        order = json.loads(json.dumps(self.order))
        for edit in edits:
            place = order
            if edit.table == "line":
                place = order["line"][edit.number - 1]
            elif edit.table:
                place = order.setdefault(edit.table, {})
            *above, key = edit.key.split(".")
            for name in above:
                place = place.setdefault(name, {})
            if edit.value is None:
                place.pop(key, None)
            else:
                place[key] = list(edit.value) if isinstance(edit.value, tuple) else edit.value
        return MadeUp(order, [list(row) for row in self.rows], self.drawing)

    def with_text(self, row: int, line: int, text: str) -> MadeUp | None:
        """Return the list with another wording, where the line consists of one column."""
        said = self.order["line"][line - 1]["text"]
        heads = self.order["list"]["columns"]
        column = heads.get(said[1:-1]) if said.startswith("{") and said.endswith("}") else None
        if column is None:
            return None
        rows = [list(r) for r in self.rows]
        rows[row - 1][rows[0].index(column)] = text
        return MadeUp(self.order, rows, self.drawing)


def made_up(seed: int) -> MadeUp:
    """Return a valid order on a plain blank, spoilt in one to three ways: faces, sizes, names, zones, cutters,
    limits, finish, stock, units, at random."""
    pick = random.Random(seed)
    inches = pick.random() < 0.25
    unit = 25.4 if inches else 1.0

    def length(low: float, high: float) -> float:
        return round(pick.uniform(low, high) / unit, 4 if inches else 2)

    blank: dict[str, Any] = {"shape": "rectangle", "width": length(130, 170), "height": length(50, 90)}
    blank |= {"margin": length(2, 5), "thickness": length(6, 12)}
    face = pick.choice(("roboto-slab", "montserrat", "noto-sans", "oswald", "eb-garamond", "cinzel"))
    cap = pick.uniform(5.5, 8.5)
    lines: list[dict[str, Any]] = [
        {"text": "{name}", "face": face, "cap_height": round(cap / unit, 4 if inches else 2)},
        {"text": "{post}", "face": pick.choice(("roboto-slab", "noto-sans")), "cap_height": length(4.0, 5.0)},
    ]
    lines[0]["smallest"] = round(lines[0]["cap_height"] * pick.uniform(0.6, 0.9), 4 if inches else 2)
    order: dict[str, Any] = {
        "title": "Made up",
        "units": "in" if inches else "mm",
        "list": {"file": "list.csv", "columns": {"name": "Name", "post": "Post"}},
        "blank": blank,
        "cutter": {"use": "vbit-60"},
        "limits": {},
        "line": lines,
    }
    names = pick.sample(NAMES, 2)
    posts = [pick.choice(("Warden", "Treasurer", "Head of the Oyster Survey", "")) for _ in names]
    made = MadeUp(order, [["Name", "Post"], *([n, p] for n, p in zip(names, posts, strict=True))])
    for spoil in pick.sample(SPOILERS, pick.choice((1, 2, 2, 3))):
        spoil(made, pick, length)
    return made


Length = Callable[[float, float], float]


def _box(made: MadeUp) -> dict[str, Any]:
    """Return the blank if it is a box; changes to any other are discarded."""
    blank: dict[str, Any] = made.order["blank"]
    return blank if blank["shape"] == "rectangle" else {}


def _long(made: MadeUp, pick: random.Random, length: Length) -> None:
    _box(made)["width"] = length(60, 110)
    made.rows[1][0] = pick.choice(NAMES[1:4])
    if pick.random() < 0.5:
        made.order["line"][0].pop("smallest")


def _hairlines(made: MadeUp, pick: random.Random, length: Length) -> None:
    line = pick.choice(made.order["line"])
    line["face"] = pick.choice(("bodoni-moda", "gfs-didot", "eb-garamond", "great-vibes"))
    line["cap_height"] = length(3.5, 12.0)
    line.pop("smallest", None)


def _sanded(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["finish"] = {"sanded_off": length(0.15, 0.45), "compensate": pick.random() < 0.3}


def _wide_bit(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["cutter"]["use"] = "vbit-90"
    made.order["line"][1]["cap_height"] = length(2.0, 4.0)


def _other_cutter(made: MadeUp, pick: random.Random, length: Length) -> None:
    use = pick.choice(("endmill-0-8", "endmill-1-5", "point", "laser-fine"))
    made.order["cutter"] = {"use": use}
    if use == "point" and pick.random() < 0.5:
        made.order["cutter"]["tip"] = length(0.3, 0.6)


def _own_limit(made: MadeUp, pick: random.Random, length: Length) -> None:
    key, low, high = pick.choice(
        (("stroke", 0.4, 0.9), ("land", 0.3, 0.7), ("shallowest", 0.3, 0.6), ("deepest", 0.3, 0.9))
    )
    made.order["limits"][key] = length(low, high)


def _thin_stock(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["blank"]["thickness"] = length(0.5, 1.5)
    made.order["line"][0]["cap_height"] = length(9, 14)


def _tight(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["line"][0]["tracking"] = pick.choice((-80, -60, -40))
    made.order["limits"]["land"] = length(0.25, 0.4)


def _far(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["reading"] = {"distance": length(1000, 5000)}


def _letters(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["line"][0]["face"] = pick.choice(("cinzel", "oswald", "limelight", "bodoni-moda"))
    made.rows[1][0] = pick.choice(("Nguyễn Thị Phượng", "Анна Вересова", "Łucja Źródło", "Κωνσταντίνος"))
    if pick.random() < 0.3:
        made.order["line"][0]["also"] = ["noto-sans"]


def _marks(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.rows[1][0] = pick.choice(("Siobhan O'Quill", "Rufus 'Rusty' Marrowdale"))


def _low(made: MadeUp, pick: random.Random, length: Length) -> None:
    _box(made)["height"] = length(16, 24)


def _arc(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["blank"] = {"shape": "disc", "diameter": length(60, 80), "margin": length(1, 3)}
    made.order["line"][0]["arc"] = {"radius": length(18, 26), "sweep": float(pick.choice((120, 160, 200)))}


def _same(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["line"][0]["same_size"] = pick.choice(("all", "each"))
    made.order["line"][0]["align"] = pick.choice(("left", "right"))


def _rows(made: MadeUp, pick: random.Random, length: Length) -> None:
    made.order["line"][0]["breaks"] = 2
    _box(made)["width"] = length(80, 110)
    made.rows[1][0] = NAMES[2]


SPOILERS: tuple[Callable[[MadeUp, random.Random, Length], None], ...] = (
    _long,
    _hairlines,
    _sanded,
    _wide_bit,
    _other_cutter,
    _own_limit,
    _thin_stock,
    _tight,
    _far,
    _letters,
    _marks,
    _low,
    _arc,
    _same,
    _rows,
)


@dataclass
class Score:
    """By code and way: how many were tried, and which were wrong."""

    tried: Counter[tuple[str, str]] = field(default_factory=Counter)
    right: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    findings: Counter[str] = field(default_factory=Counter)  # number of findings, by code
    helpless: Counter[str] = field(default_factory=Counter)  # those of them without an edit

    def table(self) -> str:
        """Format the advice tried and right, by code."""
        lines = [f"{'code':28} {'way':16} {'tried':>6} {'right':>6}"]
        for key in sorted(self.tried):
            lines.append(f"{key[0]:28} {key[1]:16} {self.tried[key]:6} {self.right[key]:6}")
        lines.append(f"{'together':45} {sum(self.tried.values()):6} {sum(self.right.values()):6}")
        return "\n".join(lines)


def _of(done: RunResult, finding: Finding, row: int | None) -> list[Finding]:
    """Return what is still reported about the same thing."""
    if row is None:
        found = (*done.outcome.listing.findings, *done.outcome.findings)
    else:
        found = tuple(f for p in done.outcome.plaques if p.recipient.row == row for f in p.findings)
    fits = finding.code.startswith("fit.") and finding.severity is Severity.STOP

    def same(other: Finding) -> bool:
        if fits:
            return other.code.startswith("fit.") and other.severity is Severity.STOP and other.line == finding.line
        return other.code == finding.code and (other.line, other.cell) == (finding.line, finding.cell)

    return [f for f in found if same(f)]


def _stops(done: RunResult, row: int) -> set[tuple[str, int | None]]:
    plaques = [p for p in done.outcome.plaques if p.recipient.row == row]
    return {
        ("fit" if f.code.startswith("fit.") else f.code, f.line)
        for p in plaques
        for f in p.findings
        if f.severity is Severity.STOP
    }


def list_edits(finding: Finding) -> tuple[tuple[Edit, ...], ...]:
    """Return every way to resolve it by editing the order: alternatives, each with all of its edits."""
    always = [
        tuple(
            replace(edit, number=finding.line) if edit.table == "line" and edit.number is None else edit
            for edit in edits
        )
        for edits in get_kind(finding.code).edits
    ]
    return (*(way.edits for way in finding.ways if way.edits), *always)


def _taken(made: MadeUp, done: RunResult) -> Iterator[tuple[Finding, int | None, str, MadeUp, tuple[Edit, ...]]]:
    """Follow every piece of advice of a run."""
    told: list[tuple[Finding, int | None]] = [
        (f, None) for f in dict.fromkeys((*done.outcome.listing.findings, *done.outcome.findings))
    ]
    told += [(f, p.recipient.row) for p in done.outcome.plaques for f in p.findings]
    for finding, row in told:
        names = {way.edits: way.code for way in finding.ways}
        for edits in list_edits(finding):
            yield finding, row, names.get(edits, "always"), made.with_edits(edits), edits
        for way in finding.ways:
            if way.text and row is not None and finding.line is not None:
                changed = made.with_text(row, finding.line, way.text)
                if changed is not None:
                    yield finding, row, way.code, changed, ()


def take_all(made: MadeUp, folder: Path, score: Score, most: int = 1000) -> int:
    """Run an order, follow its advice, run again; return how many pieces of advice were followed."""
    units = run_order(made.write(folder), files=False)
    known = set()
    count = 0
    for plaque in units.outcome.plaques:
        for f in plaque.findings:
            score.findings[f.code] += 1
            if not list_edits(f):
                score.helpless[f.code] += 1
    for finding, row, name, changed, edits in _taken(made, units):
        key = (finding.code, finding.line, name, edits, row if not edits else None)
        if key in known:
            continue
        known.add(key)
        count += 1
        if count > most:
            break
        what = (finding.code, name)
        score.tried[what] += 1
        told = f"{what} {edits} row {row}: {format_message(finding, units.folder.order.unit)} → "
        told += format_remedy(finding, units.folder.order.unit)
        try:
            again = run_order(changed.write(folder), files=False)
        except CannotRun as error:
            score.wrong.append(f"{told}\n   cannot run: {error}")
            continue
        left = _of(again, finding, row)
        new = _stops(again, row) - _stops(units, row) if row is not None and name != "always" else set()
        if left or new:
            words = [format_message(f, units.folder.order.unit) for f in left]
            score.wrong.append(f"{told}\n   still: {words}; new stops: {sorted(map(str, new))}\n   {made.order}")
        else:
            score.right[what] += 1
    return count
