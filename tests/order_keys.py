"""Every key of the order, taken from the models themselves, with values to try: a small order in which each key has
a meaning, and for each key one or more other valid values.

A key is the path through the tables of `order.toml`, dotted: `line.cap_height`, `board.size.length`. Tables in lists
are tried in their first entry. A new key without values here fails `tests/test_order_keys.py`.
"""

from __future__ import annotations

import copy
import json
import shutil
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import ezdxf
import xlsxwriter
from PIL import Image
from pydantic import BaseModel

from pipeline.core.config.order import Order

ROOT = Path(__file__).resolve().parents[1]

OUT: Any = types.SimpleNamespace(name="taken out")
"""As a value: the key is taken out of the order."""

Raw = dict[str, Any]
Change = tuple[str, Any]  # a place in the raw tables (`line.0.cap_height`), and its value or OUT


# --- the keys ---------------------------------------------------------------------------------------------------------


@lru_cache
def order_keys(model: type[BaseModel] = Order, above: str = "") -> tuple[str, ...]:
    """Return every key of the order, in the models' order."""
    out: list[str] = []
    for name, field in model.model_fields.items():
        table = _table(field.annotation)
        if table is None:
            out.append(above + name)
        else:
            out += order_keys(table, f"{above}{name}.")
    return tuple(out)


def _table(annotation: Any) -> type[BaseModel] | None:
    """Return the model inside an annotation (`X`, `X | None`, `tuple[X, ...]`, `Annotated[...]`); None for a plain
    value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for inner in typing.get_args(annotation) if (found := _table(inner))), None)


# --- a small order ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ListRow:
    """A row of the small order's list. A value that begins with # is a cell in which the spreadsheet shows an error."""

    name: str
    post: str = "Warden"
    town: str = "Saltmarsh"
    hidden: bool = False
    struck: bool = False


HEADINGS = ("Name", "Post", "Town")
ROWS = (ListRow("Ada Tern"), ListRow("Bo Auk", "Cook"), ListRow("Cy Kite", town="Quay"))

BASE: Raw = {
    "title": "Small plates",
    "client": "Saltmarsh Rowers",
    "units": "mm",
    "list": {"file": "list.xlsx", "columns": {"name": "Name", "post": "Post"}},
    "blank": {
        "drawing": "plate.dxf",
        "layers": {"edge": "EDGE", "zone": "LETTERING", "keep_out": "KEEP_OUT", "pocket": "POCKET"},
        "thickness": 19.0,
        "margin": 2.0,
        "gap": 0.05,
    },
    "cutter": {"use": "vbit-60"},
    "limits": {"stroke": 0.2, "land": 0.05, "deepest": 1.6, "shallowest": 0.1},
    "line": [
        {"text": "{name}", "face": "noto-sans", "cap_height": 6.0, "smallest": 4.0},
        {
            "text": "{post}",
            "face": "noto-sans",
            "cap_height": 4.0,
            "side": "back",
            "arc": {"radius": 45.0, "centre": [60.0, 0.0], "at": "top"},
        },
    ],
    "finish": {"sanded_off": 0.0, "compensate": False},
    "reading": {"distance": 500.0, "height": 1500.0},
    "proof": {"paper": "A4", "revision": "A", "shop": "Saltmarsh Workshop"},
    "files": {
        "version": "R2010",
        "tolerance": 0.01,
        "registration": {"at": [[-8.0, 40.0], [128.0, 40.0]], "sheet": 15.0, "mark": "cross", "size": 4.0},
    },
    "stock": {"material": "walnut", "rough": 25.0, "finished": 18.6, "movement": 0.002, "moisture": 9.0},
    "pocket": {"depth": 8.0, "rough": {"use": "endmill-6"}, "fine": {"use": "endmill-3"}, "depth_per_pass": 2.0},
    "pour": {
        "data_sheet": "Sheet of an invented resin",
        "fills": "pocket",
        "by_volume": [2.0, 1.0],
        "by_weight": [100.0, 47.0],
        "density": 1.1,
        "layer": 25.0,
        "working_time": 300.0,
        "rate": 25.0,
        "between_layers": 12.0,
        "demould": 48.0,
        "machine": 96.0,
        "waste": 0.15,
    },
    "board": {
        "size": [{"length": 900.0, "width": 200.0, "name": "long", "count": 2}],
        "screws": [{"at": [20.0, 20.0], "diameter": 6.0}],
        "unsigned": True,
    },
    "spare": {"blanks": 2, "test_piece": True},
    "rates": {"currency": "EUR", "hour": 30.0, "machine_hour": 20.0, "stock_price": 90.0, "resin_price": 40.0},
    "labels": {"paper": "A4"},
}
"""Every optional table stands in it, so that a key changes something where it can."""


SHOP: Raw = {"resin": [{"name": "clear", "density": 1.12, "by_volume": [2.0, 1.0], "by_weight": [100.0, 45.0]}]}
"""The shop file in the small order's folder: only what an order asks for by name, so that it changes nothing else."""


def write_folder(folder: Path, raw: Raw | None = None, rows: Sequence[ListRow] = ROWS) -> Path:
    """Write the order folder with all its files (drawings, fonts, lists); return `order.toml`."""
    folder.mkdir(parents=True, exist_ok=True)
    _draw(folder / "plate.dxf")
    _draw(folder / "other-plate.dxf", width=116.0)
    _draw(folder / "no-unit.dxf", unit=0)
    _draw_artwork(folder)
    (folder / "shop.toml").write_text(to_toml(SHOP), encoding="utf-8")
    shutil.copy(ROOT / "tests/reference/variable/noto-sans-latin-wdth-normal.woff2", folder / "wide.woff2")
    write_list(folder, rows)
    return write_order(folder, raw or BASE)


def write_order(folder: Path, raw: Raw) -> Path:
    """Write `order.toml` only."""
    file = folder / "order.toml"
    file.write_text(to_toml(raw), encoding="utf-8")
    return file


def write_list(folder: Path, rows: Sequence[ListRow]) -> None:
    """Write the list in every file that the orders name: a workbook of two sheets, and text files."""
    Image.new("RGB", (8, 4), "white").save(folder / "logo.png")
    book = xlsxwriter.Workbook(folder / "list.xlsx")
    book.set_properties({"created": datetime(2026, 1, 1)})
    struck = book.add_format({"font_strikeout": True})
    for sheet, chosen in (("First", list(rows)), ("Second", list(rows)[:2])):
        page = book.add_worksheet(sheet)
        for column, heading in enumerate(HEADINGS):
            page.write_string(0, column, heading)
        for at, row in enumerate(chosen, 1):
            look = struck if row.struck else None
            for column, value in enumerate((row.name, row.post, row.town)):
                if value.startswith("#"):
                    page.write_formula(at, column, "=X1", look, value)
                else:
                    page.write_string(at, column, value, look)
            if row.hidden:
                page.set_row(at, None, None, {"hidden": True})
        if sheet == "Second":
            page.hide()
    book.close()
    for name, separator, encoding in (("list.csv", ",", "utf-8"), ("semicolons.csv", ";", "cp1252")):
        lines = [HEADINGS, *((row.name, row.post, row.town) for row in rows)]
        text = "".join(separator.join(f'"{cell}"' for cell in line) + "\n" for line in lines)
        (folder / name).write_text(text, encoding=encoding, errors="replace")
    late = "Anton Whimbrel,Warden,Lower Strand\n"
    (folder / "late.csv").write_text("Town list of late names\n" + ",".join(HEADINGS) + "\n" + late, encoding="utf-8")
    dated = "".join(f'"{row.name}","2026-05-{n:02}","{row.town}"\n' for n, row in enumerate(rows, 1))
    (folder / "dated.csv").write_text(",".join(HEADINGS) + "\n" + dated, encoding="utf-8")


def _draw(file: Path, *, width: float = 120.0, unit: int = 4) -> None:
    """Draw a plate with a zone at the bottom, a keep-out in its corner and a pocket at the top; each on two layers
    to choose from."""
    doc = ezdxf.new("R2010", units=unit)
    for suffix, off in (("", 0.0), ("_B", 1.0)):
        for layer, box in (
            ("EDGE", (0.0, 0.0, width - 2 * off, 80.0)),
            ("LETTERING", (5.0, 5.0 + off, width - 5.0, 55.0)),
            ("KEEP_OUT", (6.0, 6.0 + off, 10.0, 10.0)),
            ("POCKET", (20.0 + 10 * off, 60.0, 80.0, 74.0)),
        ):
            x0, y0, x1, y1 = box
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            doc.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer + suffix})
    for radius in (4.0, 2.5):  # drawn with the blank
        doc.modelspace().add_circle((100.0, 14.0), radius, dxfattribs={"layer": "CREST_DRAWN"})
    doc.saveas(file)


def _draw_artwork(folder: Path) -> None:
    """Draw a crest and another one, as SVG and on two layers of a drawing."""
    page = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40">{}</svg>'
    shield = '<path fill-rule="evenodd" d="M4 4h32v16q0 12 -16 18q-16 -6 -16 -18zM9 9v11q0 9 11 13q11 -4 11 -13v-11z"/>'
    (folder / "crest.svg").write_text(page.format(shield), encoding="utf-8")
    ring = '<circle cx="20" cy="20" r="15.5" fill="none" stroke="#000" stroke-width="5"/>'
    (folder / "badge.svg").write_text(page.format(ring), encoding="utf-8")
    doc = ezdxf.new("R2010", units=4)
    for layer, x in (("CREST", 0.0), ("BORDER", 30.0)):
        for radius in (10.0, 7.0):
            doc.modelspace().add_circle((x, 0.0), radius, dxfattribs={"layer": layer})
    doc.saveas(folder / "crest.dxf")


def to_toml(raw: Mapping[str, Any]) -> str:
    """Format the tables as TOML. Strings are written as JSON, which is valid TOML."""
    return "".join(f"{json.dumps(key)} = {_value(value)}\n" for key, value in raw.items())


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False)


# --- changes ----------------------------------------------------------------------------------------------------------


def changed(raw: Raw, changes: Sequence[Change]) -> Raw:
    """Return a copy of the order with these changes."""
    out = copy.deepcopy(raw)
    for place, value in changes:
        *above, last = place.split(".")
        table: Any = out
        for part in above:
            table = table[int(part)] if isinstance(table, list) else table.setdefault(part, {})
        key: Any = int(last) if isinstance(table, list) else last
        if value is not OUT:
            table[key] = copy.deepcopy(value)
        elif key in table:
            del table[key]
    return out


@dataclass(frozen=True)
class Sample:
    """Another value of a key. needs: other changes required for the key to be allowed or to have a meaning: a test
    of this key alone compares `before` with `after`."""

    key: str
    value: Any
    needs: tuple[Change, ...] = ()
    along: tuple[Change, ...] = ()
    """What cannot but change with the key."""

    @property
    def table(self) -> str:
        """Return the table of the order that the key is in, at any depth; the key itself where it is in none."""
        return self.key.partition(".")[0]

    @property
    def place(self) -> str:
        """Return the place of the key in the raw tables."""
        out = f"{self.key}."
        for table in ("line.", "artwork.", "board.size.", "board.screws.", "defects."):
            out = out.replace(table, f"{table}0.") if out.startswith(table) or table == "defects." else out
        return out.removesuffix(".")

    def before(self, raw: Raw = BASE) -> Raw:
        """Return the order with what the sample needs."""
        return changed(raw, self.needs)

    def after(self, raw: Raw = BASE) -> Raw:
        """Return the order with what the sample needs, and the key changed."""
        out = self.before(raw)
        return (
            in_inches(out)
            if (self.key, self.value) == ("units", "in")
            else changed(out, [*self.along, (self.place, self.value)])
        )


def in_inches(raw: Raw) -> Raw:
    """Return the same order with all its lengths in inches. The models determine which numbers are lengths."""
    once, twice = (Order.model_validate(raw, context={"mm": mm}).model_dump() for mm in (1.0, 2.0))
    out: Raw = _inches(raw, once, twice)
    return {**out, "units": "in"}


def _inches(raw: Any, once: Any, twice: Any) -> Any:
    if isinstance(raw, Mapping):
        return {key: _inches(value, once[key], twice[key]) for key, value in raw.items()}
    if isinstance(raw, list | tuple):
        return [_inches(*each) for each in zip(raw, once, twice, strict=True)]
    return raw / 25.4 if once != twice else raw


# --- values -----------------------------------------------------------------------------------------------------------

_NO_DRAWING: tuple[Change, ...] = (
    ("blank.drawing", OUT),
    ("blank.layers", OUT),
    ("blank.gap", OUT),
    ("pocket", OUT),
    ("pour", OUT),
    ("files.registration", OUT),
)
_RECTANGLE: tuple[Change, ...] = (
    *_NO_DRAWING,
    ("blank.shape", "rectangle"),
    ("blank.width", 120.0),
    ("blank.height", 80.0),
)
_DISC: tuple[Change, ...] = (*_NO_DRAWING, ("blank.shape", "disc"), ("blank.diameter", 120.0))
_OWN_CUTTER: tuple[Change, ...] = (("cutter", {"kind": "v-bit", "angle": 60.0, "tip": 0.1, "diameter": 6.0}),)
_DATED_LIST: tuple[Change, ...] = (("list.file", "dated.csv"),)
_TEXT_LIST: tuple[Change, ...] = (("list.file", "list.csv"),)
_LONG: tuple[Change, ...] = (("line.0.text", "{name} of the rowing club of {post}"), ("line.0.cap_height", 7.0))
_WIDE: tuple[Change, ...] = (("line.0.face", "wide.woff2"),)
_TWO_ZONES: tuple[Change, ...] = (
    ("blank.layers.zone", ["LETTERING", "LETTERING_B"]),
    ("line.0.zone", "LETTERING"),
    ("files.registration", OUT),
    ("line.0.vertical", "top"),
    ("line.1", {"text": "{post}", "face": "noto-sans", "cap_height": 4.0, "zone": "LETTERING_B"}),
)
_JIG: tuple[Change, ...] = (
    ("board", OUT),
    ("jig", {"columns": 2, "rows": 2, "across": 125.0, "up": 85.0, "first": [10.0, 10.0], "unsigned": True}),
)
_GROOVES: tuple[Change, ...] = (("files.grooves", True), ("limits.deepest", 0.8))
_CREST: tuple[Change, ...] = (("artwork", [{"file": "crest.svg", "at": [104.0, 14.0], "width": 9.0}]),)
_DRAWN_CREST: tuple[Change, ...] = (("artwork", [{"file": "crest.dxf", "at": [104.0, 14.0], "width": 9.0}]),)
_FOLLOWED: tuple[Change, ...] = (*_CREST, ("artwork.0.cut", "line"), ("artwork.0.depth", 0.3))
_DEFECT: tuple[Change, ...] = (("board.size.0.defects", [{"at": [300.0, 60.0], "diameter": 20.0}]),)
_LIST_LIMITS = {"file_mb": 50, "unpacked_mb": 100, "times": 300, "parts": 900}


def _samples() -> Iterator[Sample]:
    def give(key: str, *values: Any, needs: tuple[Change, ...] = ()) -> Iterator[Sample]:
        for value in values:
            yield Sample(key, value, needs)

    yield from give("title", "Other plates", "Ŝildoj — dua")
    yield from give("client", "", "Other Rowers")
    yield from give("units", "in")

    yield from give("list.file", "list.csv", "semicolons.csv")
    yield from give("list.more", ["late.csv"], ["semicolons.csv", "late.csv"])
    yield from give("list.sheet", "Second")
    yield from give("list.header", 1)
    yield from give("list.area", "A1:C3", ["A1:C2"])
    yield from give("list.columns", {"name": "Name", "post": "Town"}, {"name": "Town", "post": "Name"})
    yield from give("list.language", "de", "tr")
    yield from give("list.dates", "d MMMM y", "long", {"post": "EEEE d MMMM"}, needs=_DATED_LIST)
    yield from give("list.encoding", "utf-8", "cp1252", needs=_TEXT_LIST)
    yield from give("list.separator", ",", needs=_TEXT_LIST)
    yield from give("list.guessed", True)
    yield from give("list.hidden", "use", "leave-out")
    yield from give("list.struck", "use", "leave-out")
    for limit, value in (_LIST_LIMITS | {"rows": 1000, "columns": 50, "cells": 9000, "text": 400}).items():
        yield from give(f"list.limits.{limit}", value)
    yield from give(
        "list.settled", {"list.row-hidden": "the client said so"}, {"text.symbol 2-9": "all of it is meant"}
    )

    yield from give("blank.drawing", "other-plate.dxf")
    yield Sample(
        "blank.shape",
        "disc",
        _RECTANGLE,
        (("blank.width", OUT), ("blank.height", OUT), ("blank.diameter", 110.0)),
    )
    yield from give("blank.width", 118.0, 60.0, needs=_RECTANGLE)
    yield from give("blank.height", 78.0, needs=_RECTANGLE)
    yield from give("blank.corner_radius", 5.0, needs=_RECTANGLE)
    yield from give("blank.diameter", 118.0, needs=_DISC)
    yield from give("blank.layers.edge", "EDGE_B")
    yield from give("blank.layers.zone", "LETTERING_B", ["LETTERING"])
    yield from give("blank.layers.keep_out", "KEEP_OUT_B")
    yield from give("blank.layers.pocket", "POCKET_B")
    yield from give("blank.thickness", 18.0, OUT)
    yield from give("blank.margin", 1.0, 4.0)
    yield from give("blank.gap", 0.2)
    yield from give("blank.drawing_units", "mm", needs=(("blank.drawing", "no-unit.dxf"),))

    yield from give("cutter.use", "vbit-90", "vbit-30", "laser-fine")
    yield from give("cutter.kind", "laser", needs=(("cutter", {"kind": "point", "tip": 0.1, "kerf": 0.1}),))
    yield from give("cutter.angle", 70.0, needs=_OWN_CUTTER)
    yield from give("cutter.tip", 0.05, needs=_OWN_CUTTER)
    yield from give("cutter.diameter", 8.0, 1.2, needs=_OWN_CUTTER)
    yield from give("cutter.kerf", 0.12, needs=(("cutter", {"kind": "laser", "kerf": 0.1}),))
    yield from give("cutter.reach", 12.0, needs=_OWN_CUTTER)
    yield from give("limits.stroke", 0.25, 0.6)
    yield from give("limits.land", 0.06, 0.4)
    yield from give("limits.deepest", 1.4, 0.3)
    yield from give("limits.shallowest", 0.05, 0.3)

    yield from give("line.text", "{name}, {post}", "For {name}")
    yield from give("line.opposite", "{post}", "1987")
    yield from give("line.leader", ".", needs=(("line.0.opposite", "{post}"), ("line.0.text", "{name}")))
    yield from give("line.face", "oswald", "wide.woff2")
    yield from give("line.cap_height", 5.5, 5.0)
    yield from give("line.smallest", 3.5, OUT)
    yield from give("line.zone", "LETTERING")
    yield from give("line.align", "left", "right")
    yield from give("line.vertical", "top", "bottom")
    yield from give("line.tracking", 20)
    yield from give("line.loosest", 0, needs=(("limits.land", 0.86), ("line.1.cap_height", 6.5)))
    yield from give("line.tightest", -20, needs=_LONG)
    yield from give("line.least_width", 80.0, needs=_LONG + _WIDE)
    yield from give("line.breaks", 2, needs=_LONG)
    initials: Change = ("line.0.text", "{name} A. B. C. D. E. F. G. H. I. J. K. L. M.")
    yield from give("line.break_at", "anywhere", needs=(("line.0.breaks", 2), initials))
    yield from give("line.same_size", "all", "each")
    yield from give("line.side", "back")
    yield from give("line.leading", 14.0, needs=(*_LONG, ("line.0.breaks", 2)))
    yield from give("line.space_before", 3.0)
    yield Sample("line.name", "who", _TWO_ZONES, (("line.1.baseline_with", "who"),))
    yield from give("line.baseline_with", "what", needs=(*_TWO_ZONES, ("line.1.name", "what")))
    yield from give("line.language", "tr")
    yield from give("line.features", {"smcp": True}, {"kern": False})
    yield from give("line.axes", {"wdth": 85.0}, needs=_WIDE)
    yield from give("line.also", ["roboto-slab"])
    yield from give("line.case", "capitals")
    yield from give("line.tidy_quotes", True)
    for key, values in (("radius", [44.0]), ("centre", [[59.0, 1.0]]), ("start", [100.0])):
        for value in values:
            yield Sample(f"line.arc.{key}", value, _ARC)
    small: Change = ("line.0.arc", {"radius": 15.0, "centre": [60.0, 30.0]})
    yield from give("line.arc.at", "bottom", needs=(small, ("line.0.cap_height", 4.0)))
    yield from give("line.arc.sweep", 90.0, needs=_ARC)

    yield from give("artwork.file", "badge.svg", "crest.dxf", needs=_CREST)
    yield from give("artwork.layers", ["CREST"], needs=_DRAWN_CREST)
    # the letters give way to the crest: where they touch, advice is worked out for every plaque in every run
    yield Sample("artwork.zone", "LETTERING", (*_CREST, ("line.0.vertical", "top")), (("artwork.0.at", OUT),))
    yield from give("artwork.at", [103.0, 15.0], needs=_CREST)
    yield from give("artwork.width", 8.0, needs=_CREST)
    yield from give("artwork.height", 8.0, needs=_CREST)
    yield from give("artwork.turn", 90.0, -30.0, needs=_CREST)
    yield from give("artwork.cut", "line", needs=(*_CREST, ("cutter.use", "laser-fine")))
    yield from give("artwork.depth", 0.2, needs=_FOLLOWED)
    yield from give("artwork.side", "back", needs=_CREST)
    yield from give("blank.layers.artwork", "CREST_DRAWN")

    yield from give("finish.sanded_off", 0.05, 0.1)
    yield from give("finish.compensate", True, needs=(("finish.sanded_off", 0.1),))
    yield from give("reading.distance", 800.0, 20_000.0)
    yield from give("reading.height", 2500.0)
    yield from give("proof.paper", "letter")
    yield from give("proof.revision", "C")
    yield from give("proof.unfinished", "leave-out", "show")
    yield from give("proof.volume", 2)
    yield from give("proof.date", "3 May 2026")
    yield from give("proof.shop", "Other Workshop")
    yield from give("proof.contact", "proofs@saltmarsh.example")
    yield from give("proof.return_to", "back@saltmarsh.example")
    yield from give("proof.layout", "page")
    yield from give("proof.telephone", "01632 960123")
    yield from give("proof.reply_by", date(2026, 12, 15))
    yield from give("proof.price", "£ 312.50 with VAT")
    noun: Change = ("proof.noun", {"one": "medal", "many": "medals"})
    yield from give("proof.noun.one", "award", needs=(noun,))
    yield from give("proof.noun.many", "awards", needs=(noun,))
    yield from give("proof.logo", "logo.png")
    yield from give("proof.message", "Please look at every name.")
    yield from give("proof.language", "en")  # the only one so far
    yield from give("files.version", "R2000", "R2018", "R12")
    yield from give("files.curves", "lines", "splines")
    yield from give("files.tolerance", 0.02)
    yield from give("files.layers", {"ENGRAVE": "CUT1"}, {"EDGE": "RIM"})
    yield from give("files.grooves", True)
    yield from give("files.also", ["svg"], ["svg", "pdf"])
    yield from give("files.registration.at", [[-8.0, 38.0], [128.0, 42.0]])
    yield from give("files.registration.sheet", 16.0)
    yield from give("files.registration.mark", "hole")
    yield from give("files.registration.size", 5.0)

    yield from give("cutter.depth_per_pass", 0.3, needs=_GROOVES)
    yield from give("stock.least_floor", 18.9)
    yield from give("rates.surface_speed", 120.0)
    yield from give("clearing.use", "endmill-3", needs=_GROOVES)
    yield from give("clearing.diameter", 2.0, needs=_GROOVES)
    for key, value in (("diameter", 1.2), ("reach", 5.0), ("stepover", 0.5)):
        yield from give(f"clearing.{key}", value, needs=(*_GROOVES, ("clearing", {"use": "endmill-1-5"})))
    stock = {"material": "oak", "rough": 26.0, "faced": 2.0, "least_skin": 4.0, "sawn_off": 1.0, "sanded_back": 0.3}
    stock |= {"finished": 18.5, "finished_within": 0.4, "movement": 0.003, "moisture": 8.0, "moisture_in_use": 7.0}
    for key, value in stock.items():
        yield from give(f"stock.{key}", value)
    yield from give("pocket.depth", 7.5)
    yield from give("pocket.rough.use", "endmill-3")
    yield from give("pocket.rough.diameter", 5.0)
    yield from give("pocket.rough.reach", 20.0)
    yield from give("pocket.fine.use", "endmill-1-5")
    yield from give("pocket.fine.diameter", 2.5)
    yield from give("pocket.fine.reach", 19.0)
    yield from give("pocket.depth_per_pass", 1.5)
    yield from give("pocket.stepover", 0.5)
    yield from give("pocket.corner", 0.3)
    pour = {
        "use": "clear",
        "data_sheet": "Another sheet",
        "fills": "both",
        "overfill": 0.6,
        "waste": 0.2,
        "density": 1.15,
    }
    pour |= {"by_volume": [3.0, 1.0], "by_weight": [100.0, 40.0], "layer": 5.0, "working_time": 200.0}
    pour |= {"stirring": 10.0, "rate": 30.0, "largest_mix": 800.0, "between_layers": 10.0, "demould": 40.0}
    pour |= {"machine": 90.0, "dam": 5.0, "levelled_off": 0.2}
    for key, value in pour.items():
        yield from give(f"pour.{key}", value)
    yield from give(
        "work.steps", ["letter", "pocket", "pour", "level"], ["sand", "letter"], needs=(("finish.sanded_off", 0.1),)
    )
    for key, value in (("length", 800.0), ("width", 190.0), ("name", "short"), ("count", 3)):
        yield from give(f"board.size.{key}", value)
    yield from give("board.size.defects.at", [320.0, 50.0], needs=_DEFECT)
    yield from give("board.size.defects.diameter", 25.0, needs=_DEFECT)
    yield from give("board.kerf", 3.0)
    yield from give("board.trim", 2.0)
    yield from give("board.clamp", 30.0)
    yield from give("board.screws.at", [25.0, 25.0])
    yield from give("board.screws.diameter", 7.0)
    yield from give("board.grain", "across", "none")
    yield from give("board.turn", False)
    yield from give("board.outline", 1.5)
    yield from give("board.allowance", 0.5)
    yield from give("board.unsigned", False)
    jig = {"columns": 3, "rows": 1, "across": 130.0, "up": 90.0, "first": [5.0, 0.0], "turn": 180, "loading": 2.0}
    jig |= {"size": [420.0, 210.0], "bed": [600.0, 400.0], "unsigned": False}
    for key, value in jig.items():
        yield from give(f"jig.{key}", value, needs=_JIG)
    yield from give("spare.blanks", 3)
    yield from give("spare.test_piece", False)
    rates = {"currency": "GBP", "hour": 31.0, "machine_hour": 21.0, "stock_price": 80.0, "resin_price": 41.0}
    rates |= {"rpm": 16000.0, "flutes": 1, "chip_load": 0.06, "fastest": 2500.0, "feed": 800.0, "plunge": 250.0}
    rates |= {"lift": 2.0, "change": 4.0, "setup": 15.0, "fixing": 7.0, "saw_cut": 1.0, "fence": 2.0, "mixing": 9.0}
    rates |= {"sanding": 10.0, "finishing": 5.0, "packing": 2.0}
    for key, value in rates.items():
        yield from give(f"rates.{key}", value)
    labels = {"paper": "letter", "columns": 2, "rows": 6, "width": 60.0, "height": 36.0, "left": 8.0, "top": 14.0}
    labels |= {"across": 64.0, "down": 37.0}
    for key, value in labels.items():
        yield from give(f"labels.{key}", value)


_ARC: tuple[Change, ...] = (("line.0.arc", {"radius": 40.0, "centre": [60.0, 0.0]}), ("line.0.cap_height", 5.0))

SAMPLES: tuple[Sample, ...] = tuple(_samples())
"""In the models' order."""
