"""One example of every kind of finding, as it would read in an order: for `plaques explain` and the reference.

Everybody in them is invented. `tests/core/test_examples.py` fails on a kind without an example, and on one whose words
keep a blank.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from pipeline.core.catalogue import (
    artwork_kinds,
    cut_kinds,
    drawing_kinds,
    face_kinds,
    file_kinds,
    fit_kinds,
    jig_kinds,
    list_kinds,
    name_kinds,
    proof_kinds,
    question_kinds,
    sheet_kinds,
    shop_kinds,
    sign_kinds,
    tool_kinds,
    ways,
)
from pipeline.core.findings import Fact, Finding, Kind, Way, WayKind, build_finding, build_way

RARE = (
    ways.BETWEEN,
    ways.SMALLER_FROM,
    ways.BIT_SANDED,
    ways.OTHER_CUTTER,
    ways.EACH_ALONE,
    ways.NO_FACE,
    ways.NO_BOARD_FITS,
)
"""Ways that take the place of another one; an example shows that other one."""

_WAY_FACTS: dict[str, Fact] = {
    "deepest": 0.8,
    "rows": 2,
    "keys": "across = 100.5",
    "shown": "The Friends of the North / Skerry Observatory",
    "tightest": -20,
    "shorter": "North Skerry Observatory",
    "face": "noto-sans",
    "title": "Noto Sans",
    "size": 4.75,
    "smallest": 5.5,
    "more": 12.0,
    "most": 2.5,
    "sanded": 0.1,
    "loss": 0.12,
    "angle": 60.0,
    "name": "vbit-60",
    "depth": 1.5,
    "diameter": 6.0,
    "grown": 0.12,
    "stroke": 0.15,
    "shallowest": 0.05,
    "tracking": 40,
    "kind": "letters of one line",
    "faces": "noto-sans",
    "each": "“風” is in droid-sans-fallback, “ě” in noto-sans",
    "row": 4,
    "columns": "",
}
_OWN_FACTS: dict[str, dict[str, Fact]] = {
    ways.ANYWHERE.code: {"rule": "after the initial “B.”", "rows": 2, "shown": "Wilhelmina B. / Zeemeeuw"},
    ways.NARROWER.code: {"least": 90.0, "width": 92.5},
    ways.SMALLER_FROM.code: {"least": 2.5},
    ways.LARGER.code: {"size": 9.75},
    ways.BETWEEN.code: {"size": 9.75, "most": 12.0},
    ways.CLEARED_FLOOR.code: {"name": "endmill-1-5", "diameter": 1.5},
    ways.DATES.code: {"pattern": "d MMMM y", "example": "4 March 2026"},
    ways.CUTTER.code: {"width": 0.15, "name": "point-fine"},
    ways.ARTWORK_LARGER.code: {"width": 36.0, "key": "width", "size": 36.0},
    ways.ARTWORK_SMALLER.code: {"width": 24.5, "key": "width", "size": 24.5},
    ways.ARTWORK_CUTTER.code: {"name": "vbit-30"},
    ways.ARTWORK_LAYER.code: {"layer": "LOGO"},
    ways.TOGETHER.code: {"keys": "cap_height = 8.16 and breaks = 2"},
    ways.NEAREST.code: {"keys": "smallest = 3.5", "left": 8, "of": 22, "told": "8 too long for their place"},
}


def build_example_way(kind: WayKind) -> Way:
    """Return one way of this kind."""
    return build_way(kind, facts={**_WAY_FACTS, **_OWN_FACTS.get(kind.code, {})})


class _Examples:
    """Collects examples by code."""

    def __init__(self) -> None:
        self.found: dict[str, Finding] = {}

    def add_for_order(self, kind: Kind, **facts: Fact) -> None:
        self._add(kind, facts)

    def add_for_row(self, kind: Kind, row: int, **facts: Fact) -> None:
        self._add(kind, {"row": row, **facts}, row=row, cell=f"B{row}")

    def add_for_line(self, kind: Kind, text: str, **facts: Fact) -> None:
        """A finding of a line, without a measure."""
        self._add(kind, {"text": text, **facts}, line=1, row=12, cell="B12")

    def add_measured(self, kind: Kind, measured: float, limit: float, **facts: Fact) -> None:
        """A finding of the order with a measured length and its limit, mm."""
        self._add(kind, facts, measured=measured, limit=limit, unit="mm")

    def add_for_letter(self, kind: Kind, measured: float, limit: float, glyph: str, **facts: Fact) -> None:
        """A finding of one letter of a line, with a measured length and its limit, mm."""
        place: dict[str, Fact] = {"x": 46.7, "y": 12.8, "text": "Ada Kittiwake", "finer": 1, "also": "", "sizes": ""}
        own = {"line": 1, "glyph": glyph, "at": (46.7, 12.8), "row": 12, "cell": "B12"}
        self._add(kind, {**place, **facts}, measured=measured, limit=limit, unit="mm", **own)

    def _add(self, kind: Kind, facts: dict[str, Fact], **own: Any) -> None:
        offered = tuple(build_example_way(offer) for offer in kind.ways if offer not in RARE)
        self.found[kind.code] = build_finding(kind, facts=facts, ways=offered, **own)


@lru_cache
def build_examples() -> dict[str, Finding]:
    """Return one finding of every kind, by code."""
    add = _Examples()
    _add_list_examples(add)
    _add_text_examples(add)
    _add_drawing_examples(add)
    _add_fit_examples(add)
    _add_cut_examples(add)
    _add_artwork_examples(add)
    _add_shop_examples(add)
    _add_sign_off_examples(add)
    return add.found


def _add_list_examples(add: _Examples) -> None:
    add.add_for_row(list_kinds.NAME_MISSING, 12, present="“Warden of Gull Stack”")
    add.add_for_row(list_kinds.NAME_INCOMPLETE, 12, text="Kittiwake")
    add.add_for_row(list_kinds.ROW_HIDDEN, 12, text="Ada Kittiwake")
    add.add_for_order(list_kinds.FILTERED, count=3, rows="12, 15 and 16")
    add.add_for_row(list_kinds.ROW_FILTERED, 12, text="Ada Kittiwake")
    add.add_for_row(list_kinds.SAYS_NO, 12, text="Ada Kittiwake", said="no", heading="Plaque?")
    add.add_for_row(list_kinds.SAYS_NOTHING, 12, text="Ada Kittiwake", heading="Plaque?")
    add.add_for_row(list_kinds.ROW_STRUCK, 12, text="Ada Kittiwake")
    add.add_for_row(list_kinds.CELL_ERROR, 12, error="#REF!", wanted="a name")
    add.add_for_row(list_kinds.NO_RESULT, 12, formula='=C12&" "&D12')
    add.add_for_row(
        list_kinds.NOT_TEXT,
        12,
        found="the date or time 4 March 2026",
        text="04/03/26",
        value="date",
        where="text",
    )
    add.add_for_row(list_kinds.AS_SHOWN, 12, value="12.5", text="12.50")
    add.add_for_row(list_kinds.REPEATED, 14, rows="12 and 14", text="Bo Skua · Warden", count=2)
    add.add_for_row(
        list_kinds.LOOK_ALIKE,
        38,
        text="Katherine Ashby",
        other="Catherine Ashby",
        other_row=12,
        how="“catherine” and “katherine” are one letter apart",
    )
    add.add_for_row(list_kinds.COPIES_UNCLEAR, 12, found="says “two?”", copies=2, text="Ada Kittiwake")
    add.add_for_row(list_kinds.NO_COPIES, 12, text="Ada Kittiwake")
    add.add_for_row(list_kinds.TOTAL_DIFFERS, 55, stated="50", counted=48)
    add.add_for_row(list_kinds.LEFT_OUT, 1, reason="a title above the header", text="WARDENS OF THE SHORE")
    add.add_for_row(list_kinds.REMARK_BESIDE, 57, reason="a note", text="Please keep the accents exactly as typed.")
    add.add_for_order(list_kinds.COLUMN_UNUSED, columns="D “Lane”, E “Time”", count=2)
    add.add_for_order(list_kinds.DATE_AS_TYPED, key="died", dates=28, count=2, cells="C4 “spring 1985”, C9 “3/4/85”")
    add.add_for_row(list_kinds.DATE_SET, 12, found="4 March 2026", text="4 March 2026", pattern="d MMMM y")
    add.add_for_row(list_kinds.SENDER, 21, text="Marjory Dunlin")
    add.add_for_row(list_kinds.LEFT_OUT_NAMED, 3, reason="a sentence", text="and one for Wilf Pintail, of course")
    add.add_for_row(list_kinds.TAKEN_OFF, 12, taken="“3.”", text="Ada Kittiwake", copies="")
    add.add_for_order(list_kinds.NO_RECIPIENTS, file="recipients.xlsx")
    add.add_for_order(list_kinds.GUESSED, guess="header in row 4, names in column B")
    add.add_for_order(list_kinds.BLANK_ROWS, rows="29")
    add.add_for_row(list_kinds.PERHAPS_NOT_A_NAME, 30, text="Volunteers from here on", what="a heading")
    add.add_for_row(list_kinds.HEADER_UNSURE, 1, text="Names, Posts", why="its cells read like headings")
    add.add_for_row(list_kinds.ABOVE_HEADER, 2, text="Ada Kittiwake, Warden")
    add.add_for_order(list_kinds.BESIDE, area="F3:H40", text="Junior wardens", count=12)
    add.add_for_order(list_kinds.NAMES_UNUSED, columns="D “Reserves”", names="“Bo Skua”, “Una Tern”")
    add.add_for_row(list_kinds.SECOND_HEADER, 30, text="Name, Post", columns="names in column C, posts in column D")
    add.add_for_order(list_kinds.OUTSIDE_AREA, count=4, area="A3:C40", rows="41–44")
    add.add_for_order(list_kinds.MERGED, area="C12:C15", text="Wardens of Gull Stack", rows="12–15")
    add.add_for_row(list_kinds.COMMENT, 12, text="Ada Kittiwake", comment="with a y, please check")
    add.add_for_order(sheet_kinds.OTHER_SHEETS, others="“Read me first”, “Old list 2025” (hidden)", sheet="Wardens")
    add.add_for_order(sheet_kinds.SHEETS_ALIKE, others="“Relay”, “Medley” (hidden)", sheet="Freestyle", count=2)
    add.add_for_order(sheet_kinds.COLUMN_HIDDEN, columns="D, F (used)")
    add.add_for_order(sheet_kinds.MARKS_UNSEEN, reader="an .xlsb file", unread="hidden rows, comments, struck-out text")
    add.add_for_order(sheet_kinds.TEXT_READ, encoding="UTF-8", columns="columns separated by commas")
    add.add_for_order(sheet_kinds.NUMBERS_APART)
    add.add_for_order(
        sheet_kinds.ENCODING_UNSURE, encoding="Windows-1252", rivals="Windows-1250", words="Łucja", count=1
    )
    add.add_for_order(sheet_kinds.QUOTES_UNBALANCED, line=17, at="17")
    add.add_for_order(list_kinds.TWO_WAYS, count=5, total=48, how="have a courtesy title", rows="11–15")
    add.add_for_order(
        list_kinds.SETTLED, code="text.case-odd", rows="row 26", reason="capitals are wanted, says the client"
    )


def _add_text_examples(add: _Examples) -> None:
    row = add.add_for_row
    row(name_kinds.ENDLESS, 12, count=4_812, text="Ada Kittiwake, Bo Skua, Una Tern", most=name_kinds.MOST_CHARACTERS)
    row(name_kinds.MARKS_PILED_UP, 12, count=31, text="Adá", most=name_kinds.MOST_MARKS)
    row(name_kinds.TIDIED, 12, changes="spaces at the ends removed", text="Ada Kittiwake")
    row(
        name_kinds.UNSEEN_CHARACTER,
        12,
        text="Ada Kittiwake",
        characters="a zero-width space (U+200B)",
        done="it was taken out",
    )
    row(name_kinds.MIXED_SCRIPT, 12, text="Adа Kittiwake", characters="“а” Cyrillic, the rest Latin")
    row(name_kinds.ENCODING_DAMAGED, 12, text="BjÃ¶rn Auk", suggestion="; it may have been “Björn Auk”")
    row(name_kinds.ENCODING_UNSURE, 12, text="Łucja Wydra")
    row(name_kinds.CASE_ODD, 26, text="KESTER ROOKSBY", how="all in capitals, unlike the rest of the list")
    add.add_for_line(
        name_kinds.MARKS_TYPED, "Saoirse O'Faranoe", changes="straight apostrophe", better="Saoirse O’Faranoe", marks=1
    )
    add.add_for_line(
        name_kinds.MARKS_TIDIED, "Saoirse O'Faranoe", changes="apostrophes", better="Saoirse O’Faranoe", marks=1
    )
    row(question_kinds.PLACEHOLDER, 12, text="TBC")
    row(question_kinds.REMARK_INSIDE, 12, text="Ada Kittiwake (new spelling)", remark="“(new spelling)”")
    row(question_kinds.SEVERAL_NAMES, 12, text="Ada Kittiwake; Bo Skua", count=2)
    row(question_kinds.SURNAME_FIRST, 12, text="Kittiwake, Ada")
    row(question_kinds.DOUBLED_WORD, 12, text="Ada Ada Kittiwake", word="Ada")
    row(question_kinds.SPACE_ODD, 12, text="Ada,Kittiwake", what="no space in “Tern,Bo”")
    row(question_kinds.STRAY_MARK, 12, text="Ada Kittiwake,", what="“,” at its end")
    row(question_kinds.STRAY_DIGIT, 12, text="B0 Skua", what="a digit among letters in “B0”")
    row(question_kinds.SYMBOL, 12, text="Wren 🐦", characters="“🐦” bird")
    row(question_kinds.UNBALANCED, 12, text="Ada (Kit Kittiwake", what="“(”")
    row(question_kinds.NAME_FORM, 12, text="Ewan Mcauk", found="Mcauk", usual="McAuk")
    row(question_kinds.TITLE_ODD, 12, text="Mr Jolyon Peascod", how="has a courtesy title; most of the list doesn't")
    row(question_kinds.AMPERSAND_ODD, 12, text="Jory & Tamsin Pellow", found="&", usual="and")
    row(
        question_kinds.APOSTROPHE_ODD,
        12,
        text="Cian O'Finn",
        found="a straight apostrophe",
        usual="a curled apostrophe",
    )
    row(question_kinds.CUT_SHORT, 12, text="In loving memory of …", length=255)
    row(question_kinds.FORMAT_LOST, 12, text="1st Warden", what="raised or lowered letters")


def _add_drawing_examples(add: _Examples) -> None:
    add.add_for_order(drawing_kinds.IGNORED, what="2 texts on layer NOTES")
    add.add_for_order(
        drawing_kinds.NOT_CUT, count="3 closed outlines", layer="LOGO", width=24.0, height=31.0, at="x 30.0, y 35.0"
    )
    add.add_measured(drawing_kinds.GAP_MENDED, 0.03, 0.05, places="1 gap", layer="EDGE", at="x 120.00 mm, y 0.00 mm")
    add.add_for_order(drawing_kinds.REPEATED, count="1 contour", layer="EDGE")
    add.add_for_order(drawing_kinds.FLATTENED, low=0.0, high=19.0)
    add.add_for_order(drawing_kinds.TILTED, side="the front")
    add.add_for_order(drawing_kinds.REPAIRED, count="2 repairs", first="a missing layer was added")
    add.add_for_order(drawing_kinds.WIDTH_IGNORED, count="1 polyline", layer="EDGE")
    add.add_for_order(drawing_kinds.LAYER_HIDDEN, layer="EDGE")
    add.add_for_order(
        drawing_kinds.ONE_LAYER, layer="0", width=120.0, height=80.0, holes="the 2 loops inside it are holes"
    )
    add.add_for_order(drawing_kinds.NO_ZONE, layer="LETTERING")
    add.add_for_order(drawing_kinds.ZONE_UNSURE, layer="LETTERING", others="“TEXT” or “SCREWS”", edge="EDGE")
    add.add_for_order(
        drawing_kinds.ODD_SIZE, width=3_810.0, height=4_572.0, unit_name="inches", least=20.0, most=2_000.0
    )
    add.add_measured(drawing_kinds.POCKET_OUTSIDE, 1.5, 0.0, at="x 150.00 mm, y 90.00 mm")
    add.add_for_line(
        face_kinds.GLYPH_MISSING,
        "Mio Kazahaya 風早",
        characters="“風” (U+98A8), “早” (U+65E9)",
        letters="“風”, “早”",
        face="Roboto Slab",
    )
    add.add_for_line(
        face_kinds.MIXED_WORD,
        "Zdeněk Vlnolam",
        face="the client's typeface",
        other="Noto Sans",
        characters="“ě”",
        letters="“ě”",
    )
    add.add_for_order(face_kinds.LICENCE_FORBIDS, face="the client's typeface", permission="editing is not allowed")
    add.add_for_letter(face_kinds.OUTLINE_REPAIRED, 0.0, 0.0, "k", face="the client's typeface", bound=0.004)
    add.add_for_order(face_kinds.HOLLOW, line=1, cutter="point-fine", face="Noto Naskh Arabic")
    add.add_for_letter(face_kinds.SPECKS, 0.0, 0.0, "k", face="the client's typeface", specks=2, side=0.02)


def _add_fit_examples(add: _Examples) -> None:
    add.add_for_line(
        fit_kinds.TOO_LONG,
        "The Friends of the North Skerry Observatory",
        over=15.66,
        smallest=5.5,
    )
    add.add_for_letter(fit_kinds.TOO_TALL, 2.6, 4.0, "", finer=0)
    add.add_for_letter(fit_kinds.OUTSIDE_ZONE, 1.4, 0.0, "", finer=0)
    add.add_for_letter(fit_kinds.HITS_KEEP_OUT, 0.6, 2.0, "", finer=0, kept_free="a keep-out")
    add.add_for_line(fit_kinds.SET_SMALLER, "Wilhelmina Zeemeeuw", cap_height=6.5, designed=8.0, over=4.2)
    add.add_for_line(fit_kinds.SET_TIGHTER, "Wilhelmina Zeemeeuw", tracking=12)
    add.add_for_line(fit_kinds.SET_LOOSER, "Ada Kittiwake", tracking=12)
    add.add_for_line(fit_kinds.SET_NARROWER, "Wilhelmina Zeemeeuw", width=92.5, designed=100.0)
    add.add_for_line(fit_kinds.BROKEN, "Wilhelmina Zeemeeuw", rows=2, shown="Wilhelmina / Zeemeeuw")
    add.add_for_line(fit_kinds.BROKEN_AS_TYPED, "Wilhelmina Zeemeeuw", rows=2, shown="Wilhelmina / Zeemeeuw")
    add.add_for_line(fit_kinds.BREAK_NOT_KEPT, "Wilhelmina Zeemeeuw", rows=2, shown="Wilhelmina / Zeemeeuw")
    add.add_for_line(fit_kinds.SIZE_MOVED, "Wilhelmina Zeemeeuw", by=25, before=8.0, cap_height=6.5)
    add.add_for_line(fit_kinds.UNLIKE_CUT, "Wilhelmina Zeemeeuw", cap_height=6.5, cut=8.0)
    add.add_for_line(fit_kinds.ONE_SIZE, "Wilhelmina Zeemeeuw", cap_height=6.5, designed=8.0)
    add.add_for_line(fit_kinds.LINE_LEFT_OUT, "", columns="post")


def _add_cut_examples(add: _Examples) -> None:
    thin: dict[str, Fact] = {
        "shape": "a narrowing",
        "style": "a sturdier lettering style",
        "size": 9.75,
        "heavier": 0.044,
        "percent": 28,
    }
    wide: dict[str, Fact] = {"area": 16.1, "source": "vbit-60: its diameter"}
    add.add_for_letter(cut_kinds.STROKE_TOO_THIN, 0.156, 0.2, "a", source="[limits] stroke in order.toml", **thin)
    add.add_for_letter(
        cut_kinds.STROKE_THIN_AFTER_SANDING,
        0.156,
        0.2,
        "a",
        source="[limits] stroke in order.toml",
        sanded=0.1,
        cut=0.271,
        loss=0.115,
        **thin,
    )
    add.add_for_letter(cut_kinds.STROKE_WIDER_THAN_CUTTER, 3.7, 3.0, "k", **wide)
    add.add_for_letter(cut_kinds.GROOVE_WIDER_THAN_CUTTER, 3.7, 3.0, "k", **wide)
    add.add_for_letter(cut_kinds.STROKE_CORNER_LEFT, 0.166, 0.8, "k", reached=52.34, whole=52.48, area=0.14, radius=0.4)
    add.add_for_letter(
        cut_kinds.LAND_TOO_THIN,
        0.15,
        0.2,
        "tt",
        where="between “t” and “t”",
        source="[limits] land in order.toml",
        close="some parts stand too close together at this size",
    )
    add.add_for_letter(
        cut_kinds.GROOVE_TOO_DEEP, 1.71, 1.5, "k", width=2.07, source="[limits] deepest in order.toml", most=1.8
    )
    add.add_for_letter(
        cut_kinds.GROOVE_FLAT_FLOOR,
        7.4,
        1.832,
        "k",
        depth=1.5,
        cutter="vbit-60",
        mill="endmill-1-5",
        area=620.0,
    )
    add.add_for_letter(cut_kinds.GROOVE_TOO_SHALLOW, 0.07, 0.1, "a", source="a shallower cut does not show", **thin)
    add.add_for_letter(cut_kinds.GROOVE_OFF_LETTER, 0.031, 0.01, "n", how="cuts 0.031 mm beyond it", most="0.010 mm")
    add.add_for_letter(cut_kinds.GROOVE_ENDS_LEFT, 0.43, 0.1, "k", cutter="vbit-60", tip=0.4, area=0.09)
    add.add_for_letter(
        cut_kinds.READ_TOO_SMALL,
        10.0,
        15.875,
        "",
        distance=1_000.0,
        rule="2010 ADA Standards, table 703.5.5",
        size=15.9,
        finer=0,
    )
    add.add_for_letter(
        cut_kinds.READ_STROKE_LIGHT,
        0.37,
        0.44,
        "",
        what="a stroke",
        distance=1_500.0,
        wanted="are wanted",
        rule="20/20 acuity",
        finer=0,
    )


def _add_artwork_examples(add: _Examples) -> None:
    crest: dict[str, Fact] = {"number": 1, "file": "crest.svg"}
    place: dict[str, Fact] = {**crest, "x": 26.4, "y": 31.0, "finer": 1}
    at = ", at x 40.0, y 61.5 of the drawing"
    add.add_for_row(
        artwork_kinds.MISSING,
        12,
        number=2,
        file="eights.svg",
        source="cell D12",
        what="is not in the order folder",
        near=" (is “eight.svg” meant?)",
    )
    add.add_for_order(
        artwork_kinds.CANNOT_CUT,
        **crest,
        what="text “Est. 1921”: convert it to outlines in the drawing, or set it as a [[line]]",
        place=at,
    )
    add.add_for_order(artwork_kinds.SPECKS, **crest, count=7, limit="0.10 mm", place=", of 0.06 mm at most")
    add.add_for_order(artwork_kinds.CHANGED, **crest, what="a gradient, cut as a plain area", place=at)
    add.add_for_order(artwork_kinds.COLOURS, **crest, what="a shape in another colour (gold)", place=at)
    add.add_for_order(
        artwork_kinds.MADE_TO_FIT,
        **crest,
        width=31.5,
        height=40.0,
        zone="CREST",
        drawn="the drawing does not say its unit",
    )
    add.add_for_order(
        artwork_kinds.NO_SIZE,
        **crest,
        what="neither the drawing (its unit is px, or none) nor the order says how large it is",
    )
    add.add_measured(
        artwork_kinds.DOES_NOT_FIT, 1.4, 0.0, **place, width=48.0, height=52.0, room="zone CREST less its margin"
    )
    stroke: dict[str, Fact] = {"shape": "a narrowing", "sanded": "", "source": "vbit-60: tip 0.1 mm", "heavier": 0.04}
    add.add_measured(artwork_kinds.TOO_FINE, 0.175, 0.215, **place, **stroke)
    add.add_measured(artwork_kinds.TOO_SHALLOW, 0.08, 0.1, **place, **stroke)
    add.add_measured(artwork_kinds.TOO_WIDE, 8.2, 6.0, **place, source="vbit-60: its diameter and reach")
    add.add_measured(artwork_kinds.GROOVES_TOO_WIDE, 8.2, 6.0, **place, source="vbit-60: its diameter and reach")
    deep: dict[str, Fact] = {"what": "the widest area", "width": 5.4, "source": "the stock"}
    add.add_measured(artwork_kinds.TOO_DEEP, 4.6, 4.0, **place, **deep)
    add.add_measured(artwork_kinds.GROOVES_OFF, 0.031, 0.01, **place, how="cuts 0.031 mm beyond it", most="0.010 mm")
    add.add_measured(artwork_kinds.CORNERS_LEFT, 0.41, 1.0, **place, area=1.2, whole=289.9)
    between: dict[str, Fact] = {"between": "between its parts", "source": "[limits] land", "cure": "have it opened up"}
    add.add_measured(artwork_kinds.LAND_TOO_THIN, 0.12, 0.2, **place, **between)


def _add_shop_examples(add: _Examples) -> None:
    add.add_measured(shop_kinds.CORNER_LEFT, 1.24, 0.25, corners=4, diameter=6.0, area=7.73, radius=3.0)
    add.add_measured(shop_kinds.POCKET_SPECKS, 0.01, 0.01, cutter="end mill 3", places=2, then="")
    add.add_measured(shop_kinds.CUTTER_TOO_WIDE, 16.0, 15.0, cutter="end mill 16", role="rough", across=15.0)
    add.add_measured(shop_kinds.BEYOND_REACH, 26.0, 22.0, cutter="end mill 6", reach=22.0)
    add.add_measured(
        shop_kinds.TOO_THIN, 18.0, 19.0, reason="when it goes under the cutter", parts="`faced` of [stock]"
    )
    add.add_measured(shop_kinds.SKIN_THIN, 2.0, 3.0)
    add.add_measured(
        shop_kinds.FLOOR_TOO_THIN,
        0.03,
        0.5,
        which="line 1 “Ada Kittiwake”: the widest stroke takes a groove",
        depth=1.27,
        source="brass: common practice, no source",
        chain="",
        sizes="",
    )
    add.add_measured(shop_kinds.ENGRAVING_LOST, 0.6, 0.1, left=0.05)
    add.add_measured(shop_kinds.RESIN_HIDDEN, 4.0, 5.0)
    add.add_measured(shop_kinds.FINISHED_DIFFERS, 12.5, 14.0)
    add.add_for_order(shop_kinds.NOT_DONE, asked="[stock] faced = 1.50 mm", material="brass", done="faced")
    add.add_for_order(shop_kinds.MATERIAL_UNKNOWN, material="horn")
    add.add_for_order(
        shop_kinds.STEPS_CONFLICT,
        first="lettering",
        second="levelling the resin",
        reason="levelling the resin takes the face that was lettered down with it",
    )
    add.add_measured(shop_kinds.TOO_DEEP, 40.0, 25.0, layers=2, wait="12 h", origin="order.toml")
    add.add_for_order(shop_kinds.WORKING_TIME, volume=1_400.0, most=1_000.0)
    add.add_measured(shop_kinds.DAM_THIN, 4.0, 6.0, line=85.0)
    add.add_for_order(shop_kinds.RATIOS_DISAGREE, ratio=2.35)
    add.add_for_order(shop_kinds.NO_DATA_SHEET)
    add.add_for_order(
        shop_kinds.DATA_SHEET_INCOMPLETE, missing="the density of the mix and the deepest layer", keys="density, layer"
    )
    add.add_for_order(shop_kinds.NO_ROOM, placed=31, wanted=50)
    add.add_for_order(
        jig_kinds.PLACES_OVERLAP, pitch="98.00 mm across and 30.00 mm up", width=100.0, height=25.0, area=50.0
    )
    add.add_for_order(
        jig_kinds.OUTSIDE_BED, places=4, left=10.0, low=10.0, right=330.0, high=190.0, across=300.0, up=200.0
    )
    add.add_measured(jig_kinds.BACK_DIFFERS, 3.2, 0.1)


def _add_sign_off_examples(add: _Examples) -> None:
    signed: dict[str, Fact] = {"text": "Ada Kittiwake", "by": "Rowan Petrel", "revision": "A"}
    row, file = add.add_for_row, "cut/ada-kittiwake-PFJ3R9W7PJ.dxf"
    row(sign_kinds.NOT_SIGNED, 12, open="", **signed)
    row(sign_kinds.CHANGED_SINCE, 12, change="it was “Ada Kittywake”", **signed)
    row(sign_kinds.MORE_PIECES, 12, wanted=2, signed=1, **signed)
    row(sign_kinds.CHANGE_WANTED, 12, cells="B12", change_to="Ada Kittywake", **signed)
    row(sign_kinds.REFUSED, 12, **signed)
    row(sign_kinds.CONTRADICTED, 12, why="“agreed”, and “Ada Kittywake” under “Change to”", rows="12", **signed)
    row(sign_kinds.OTHER_ORDER, 12, was="“Wardens of the Shore 2025”", now="“Wardens of the Shore 2026”", **signed)
    row(sign_kinds.COVERS_MORE, 12, added="the material", next="B", **signed)
    row(sign_kinds.MADE_DIFFERENTLY, 12, change="`version` of [files] was R2010 and is R12", **signed)
    add.add_for_order(
        sign_kinds.LEDGER_OLDER,
        paper="released/cut-list.xlsx",
        how="it has 31 rows, while the cut list was made with 34",
    )
    row(sign_kinds.CUT_DIFFERS, 12, pieces=1, change="the list says “Ada Terne” now", rows=12, **signed)
    add.add_for_order(sign_kinds.FILE_MISSING, file=file)
    add.add_for_order(sign_kinds.FILE_ALTERED, file=file)
    add.add_for_order(sign_kinds.FILE_ELSEWHERE, file=file, place="/shared/drawings/ada.dxf")
    add.add_for_order(sign_kinds.FILE_NOT_RELEASED, file="cut/test.dxf")
    add.add_for_order(file_kinds.READ_BACK_DIFFERS, file=file, difference="the file is cut short")
    add.add_for_order(file_kinds.NOT_OURS, file=file, aside=f"{file}.changed")
    add.add_for_order(file_kinds.NO_UNIT)
    add.add_for_order(proof_kinds.LANGUAGE_UNREAD, language="Welsh", count=243)
    row(tool_kinds.FAULT, 12, error="ZeroDivisionError: division by zero")
