"""Detection of a header in unknown words by its shape, compared with the rows below it.

Nothing here is certain: a result is marked in a new order, and becomes a question when a list is read.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from pipeline.intake.names.name_words import PARTICLES, SUFFIXES, is_placeholder, is_totals_label
from pipeline.intake.recipients.headings import WORDS, find_meaning, fold_heading
from pipeline.intake.spreadsheet.sheet import Cell, Row, Sheet

LOOKED_AT = 10
"""Rows with content in which such a header is sought: fewer than for one of known words, which is better evidence."""
MOST_COLUMNS = 60
"""Most columns that are examined; no list of names has more."""
BELOW = 200
"""Rows below it that it is compared with."""
HEADER, SURE, PERHAPS = 2.0, 4.0, 1.0
"""Points from which a row is taken for a header, is certainly one, may be one. Own rule: `tests/intake/headed_lists.py`
measures it on lists with odd headings and on lists with none."""

FILTERED, BOLD = 5.0, 4.0
"""Points for a row with filter buttons, and for a bold row over others."""

_FURTHER = """
id no nr num number e-mail email mail phone telephone tel mobile address street postcode zip country county
ref reference comments comment notes note remark remarks size font style colour color material price cost amount gift
paid status type weight score points time age birthday form tutor teacher coach room table seat bench plot stand wording
spelling checked approved proof sort order row title adresse telefon tel. strasse straße plz land bemerkung größe farbe
adresse téléphone remarque taille couleur dirección teléfono nota indirizzo telefono note"""
_LINKS = frozenset("of the for on in to as it be and a an is de la le du des y e und für auf zu im der die das".split())
_HEADING_WORDS = (
    frozenset(word for words in WORDS.values() for text in words for word in fold_heading(text).split())
    | set(_FURTHER.split())
) - _LINKS
_NUMBERED = re.compile(r"[^\w\s]*\d[\d\s.,/:-]*\D{0,3}|\S+@\S+|[A-Z]{1,3}[-/]?\d+\w{0,2}")
"""Numbers, dates in digits, e-mail addresses, short codes."""


@lru_cache(maxsize=8192)
def is_name(text: str) -> bool:
    """Return whether a text looks like a name: two words or more, no digit, each word capitalised (where its alphabet
    has capitals)."""
    words = [word for word in re.split(r"[\s,]+", text.strip()) if word]
    if not 1 < len(words) < 8 or any(c.isdigit() for c in text) or text.strip()[-1] in ":;!?":
        return False
    bare = [re.sub(r"^\W+|\W+$", "", word) for word in words]
    told = [w for w in bare if w and w.casefold() not in PARTICLES and w.casefold() not in SUFFIXES]
    return bool(told) and all(not word[0].islower() and word[0].isalpha() for word in told)


@lru_cache(maxsize=1024)
def is_heading_word(text: str) -> float:
    """Return the share of a text's words that are words of headings, 0 to 1."""
    if find_meaning(text):
        return 1.0
    words = [word for word in re.split(r"[\s/.:()_-]+", fold_heading(text)) if word and word not in _LINKS]
    return sum(word in _HEADING_WORDS for word in words) / len(words) if words else 0.0


def is_row_of_names(texts: Iterable[str]) -> bool:
    """Return whether half of the texts of a row or more are names, as where a list is laid out across its sheet."""
    told = [text for text in texts if text.strip()]
    return 2 * sum(is_name(text) and not is_heading_word(text) for text in told) >= max(2, len(told))


@dataclass(slots=True)
class _ColumnTraits:
    """The traits of one column's cells."""

    texts: list[str] = field(default_factory=list)
    names: int = 0
    numbers: int = 0
    capitals: int = 0
    folded: Counter[str] = field(default_factory=Counter)

    def add(self, cell: Cell) -> None:
        text = " ".join(cell.shown.split())
        self.texts.append(text)
        self.folded[fold_heading(text)] += 1
        self.names += is_name(text)
        self.numbers += cell.kind in ("number", "date") or bool(_NUMBERED.fullmatch(text))
        self.capitals += text.isupper()

    @property
    def count(self) -> int:
        return len(self.texts)


def _describe_columns(rows: Iterable[Row]) -> dict[int, _ColumnTraits]:
    out: dict[int, _ColumnTraits] = {}
    for row in rows:
        for cell in row.cells:
            if cell.shown.strip() and (cell.column in out or len(out) < MOST_COLUMNS):
                out.setdefault(cell.column, _ColumnTraits()).add(cell)
    return out


def find_several_words(sheet: Sheet, after: int = 0) -> frozenset[int]:
    """Find columns most of whose cells below row `after` hold more than one word."""
    rows = [row for row in sheet.rows[: BELOW + LOOKED_AT] if row.number > after]
    return frozenset(
        number
        for number, column in _describe_columns(rows).items()
        if sum(len(text.split()) > 1 for text in column.texts) > 0.5 * column.count
    )


def find_name_columns(rows: Sequence[Row]) -> tuple[int, ...]:
    """Find the column that looks most like names, or the two that hold first and family name; none when there is no
    text. Totals and what stands for a name to come count against no column."""
    named = [row for row in rows[: 5 * BELOW] if not any(_is_no_name(cell) for cell in row.cells)] or rows[: 5 * BELOW]
    columns = {n: c for n, c in _describe_columns(named).items() if c.count > c.numbers}
    columns = {n: c for n, c in columns.items() if any(any(map(str.isalpha, text)) for text in c.texts)}
    if not columns:
        return ()
    most = max(column.count for column in columns.values())

    def score(number: int) -> tuple[float, int]:
        column = columns[number]
        spaced = sum(1 < len(text.split()) < 7 for text in column.texts) / column.count
        named = column.names / column.count
        addresses = sum("@" in text or "://" in text for text in column.texts) / column.count
        return (len(column.folded) / most + spaced + 0.5 * named - 2 * addresses, -number)

    best = max(columns, key=score)
    if any(len(text.split()) > 1 for text in columns[best].texts):
        return (best,)
    single = [n for n in sorted(columns) if _is_of_single_names(columns[n], most)]
    return tuple(single[:2]) if len(single) > 1 and single[1] == single[0] + 1 else (best,)


def _is_no_name(cell: Cell) -> bool:
    """Return whether a cell makes its row one of a total, or of somebody whose name is still to come."""
    text = " ".join(cell.shown.split())
    return is_totals_label(text) or (any(map(str.isalpha, text)) and is_placeholder(text))


def _is_of_single_names(column: _ColumnTraits, most: int) -> bool:
    """Return whether a column holds single capitalised words in every row, hardly one of them twice: first names, or
    family names."""
    words = sum(len(text.split()) == 1 and text[:1].isalpha() and not text[:1].islower() for text in column.texts)
    return most > 2 and column.count > 0.9 * most and words > 0.8 * column.count and len(column.folded) > 0.7 * most


@dataclass(frozen=True, slots=True)
class RowShape:
    """The shape of a row: how much it looks like a header, and the columns of the name below it."""

    row: Row
    points: float
    name: tuple[int, ...]


def guess_by_shape(sheet: Sheet) -> list[RowShape]:
    """Rate the first rows that are wide enough to be a header, from the top."""
    rows = sheet.rows[: LOOKED_AT + BELOW]
    out: list[RowShape] = []
    for at, row in enumerate(rows[:LOOKED_AT]):
        below = rows[at + 1 :]
        columns = _describe_columns(below)
        name = find_name_columns(below)
        if not name:
            break
        usual = {n for n, column in columns.items() if column.count >= 0.5 * len(below)} | set(name)
        filled = {cell.column: cell for cell in row.cells if cell.shown.strip()}
        if len(filled.keys() & usual) >= 0.6 * len(usual) and filled.keys() & set(name):
            alike = sum(_is_like(above, below, usual) for above in rows[:at])
            points = _rate_header(filled, columns, name, rows[:at]) - 2 * alike
            points += FILTERED * (sheet.filter_row == row.number) + BOLD * _is_bold(filled.values(), below)
            out.append(RowShape(row, points, name))
    return out


def _is_bold(cells: Iterable[Cell], below: Sequence[Row]) -> bool:
    """Return whether a row is bold and those below it aren't."""
    others = [cell for row in below for cell in row.cells]
    few = sum("bold" in cell.marks for cell in others) < 0.3 * len(others)
    return few and all("bold" in cell.marks for cell in cells)


def find_second_heading(sheet: Sheet, header: int) -> int:
    """Return the row below the header if it looks like another row of headings, else 0."""
    at = next((i for i, row in enumerate(sheet.rows) if row.number > header), len(sheet.rows))
    below = sheet.rows[at + 1 : at + 1 + BELOW]
    if len(below) < 3:
        return 0
    name = find_name_columns(below)
    row = sheet.rows[at]
    filled = {cell.column: cell for cell in row.cells if cell.shown.strip()}
    if row.number != header + 1 or not filled.keys() & set(name) or len(filled) < 2:
        return 0
    return row.number if _rate_header(filled, _describe_columns(below), name, ()) >= HEADER else 0


def _is_like(above: Row, below: Sequence[Row], usual: set[int]) -> bool:
    """Return whether a row above the candidate is filled like those below it and names somebody."""
    filled = {cell.column for cell in above.cells if cell.shown.strip()}
    several = len(usual) > 1 or len(below) < 2
    return several and usual <= filled and any(is_name(cell.shown) for cell in above.cells)


def _rate_header(
    filled: Mapping[int, Cell], columns: Mapping[int, _ColumnTraits], name: tuple[int, ...], above: Sequence[Row]
) -> float:
    points = aside = 0.0
    for number, cell in filled.items():
        found = _rate_cell(cell, columns.get(number, _ColumnTraits()))
        if number in name or found < 0:
            points += found
        else:
            aside += found
    wide = len(filled)
    titled = any(len(row.cells) < wide or is_title(row.cells[0].shown) for row in above if row.cells)
    return points + min(aside, 3.0) + (1.0 if titled else 0.0)


def _rate_cell(cell: Cell, column: _ColumnTraits) -> float:
    """Rate one cell against the cells below it."""
    text = " ".join(cell.shown.split())
    if cell.kind in ("number", "date") or len(text) > 60:
        return -2.0
    says = is_heading_word(text)
    points = 2.0 if says == 1 else says
    if not column.count:
        return points
    if column.folded[fold_heading(text)]:
        points -= 3.0
    if column.numbers > 0.7 * column.count and not any(c.isdigit() for c in text):
        points += 2.0
    elif column.names > 0.6 * column.count:
        if not is_name(text):
            points += 2.0 if column.names == column.count > 3 else 1.5
        elif says < 1:
            points -= 2.0
    if text.endswith(":") or (text.isupper() and column.capitals < 0.2 * column.count and len(text) > 2):
        points += 1.0
    if text.islower() and len(text) > 2:
        points += 0.5 if column.count > sum(map(str.islower, column.texts)) else 0.0
    return points


_TITLE = re.compile(
    r"\b(?:19|20)\d\d\b|\b(?:list|names?|plaques?|awards?|trophies|medals|recipients|winners|final|draft|order|dear|hello|"
    r"hi|please|thanks?|below|attached|following|liste|namen|noms|nombres)\b|[,:;!?]$",
    re.I,
)


def is_title(text: str) -> bool:
    """Return whether a line over a list is a title: a year, a word for what is ordered, a greeting, a sentence."""
    text = " ".join(text.split())
    return (not is_name(text) and len(text.split()) > 1) or bool(_TITLE.search(text))


def _may_head(text: str, rows: Sequence[Row], name: tuple[int, ...]) -> bool:
    """Return whether one word may head names of two or more words, in a pasted list."""
    texts = [cell.shown for row in rows for c in name if (cell := row.find_cell(c)) is not None]
    return len(text.split()) == 1 and sum(map(is_name, texts)) > 0.7 * len(texts)


def read_top_headings(sheet: Sheet, name: tuple[int, ...]) -> dict[int, str]:
    """Describe the rows before the first recipients of a list without a header that may be a title or a heading: alone
    in the row where the rows below are wider, or with a year, a greeting or a word of headings."""
    rows = sheet.rows[: LOOKED_AT + BELOW]
    columns = _describe_columns(rows)
    usual = {n for n, column in columns.items() if column.count > 0.6 * len(rows)}
    points = {s.row.number: s.points for s in guess_by_shape(sheet)}
    found: dict[int, str] = {}
    for row in [row for row in rows if not sheet.told or row.number not in sheet.told][:4]:
        filled = {cell.column: cell for cell in row.cells if cell.shown.strip()}
        texts = [filled[c].shown for c in name if c in filled]
        if not texts:
            continue
        if not sheet.message and len(usual) > 1 and len(filled) == 1:
            found[row.number] = "a title"
        elif _may_head(texts[0], rows, name) if sheet.message else points.get(row.number, 0.0) >= PERHAPS:
            found[row.number] = "a heading"
        elif len(filled) == 1 and is_title(texts[0]) and any(is_name(r.cells[0].shown) for r in rows if r.cells):
            found[row.number] = "a title"
        else:
            break
    return found
