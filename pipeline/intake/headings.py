"""Finding the header row of a sheet, and which column is which.

*Heading*: what a column is called in the sheet. *Key*: what the order calls it (`name`, `post`, `copies` …).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.order_words import nearest
from pipeline.intake.sheet import Row, Sheet, column_of, letters

SEARCHED = 200
"""Rows with content in which a header is looked for. Common practice: lists have it among the first ten."""

COPIES, LANGUAGE = "copies", "language"
"""The two keys that are not lettering."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the header is and which columns belong to each key."""

    header: int  # 0 when the sheet has none
    where: tuple[tuple[str, tuple[int, ...]], ...]  # our key -> columns, joined with a space
    guessed: bool = False

    @property
    def at(self) -> dict[str, tuple[int, ...]]:
        return dict(self.where)


def fold(heading: str) -> str:
    """A heading without what is forgiven: capitals, spacing, line breaks, marks at its ends."""
    text = unicodedata.normalize("NFKC", heading).casefold()
    return re.sub(r"\s+", " ", text).strip(" \t:;.,*?!#-–—_()[]'\"")


# --- what headings are called ----------------------------------------------------------------------------------

WORDS: dict[str, tuple[str, ...]] = {
    "name": (
        "name", "names", "full name", "recipient", "recipients", "recipient name", "name of recipient", "awardee",
        "winner", "winners", "honoree", "member", "person", "volunteer", "participant", "engraving name",
        "name on plaque", "name on award", "name to be engraved", "name for engraving", "name as it should appear",
        "dedicatee", "in memory of", "dedicated to", "student", "pupil", "employee", "inscription", "engraving",
        "nom", "nombre", "nome", "naam", "navn", "namn", "nimi", "jméno", "nazwa", "imię i nazwisko", "név", "όνομα",
        "имя", "фио", "שם", "الاسم", "姓名", "氏名", "名前", "이름",
    ),
    "first": ("first name", "first", "forename", "given name", "given names", "firstname", "prénom", "vorname",
              "voornaam", "fornavn", "förnamn", "imię", "nombre de pila", "名"),
    "middle": ("middle name", "middle", "middle initial", "mi", "second name"),
    "last": ("last name", "last", "surname", "family name", "lastname", "nachname", "nom de famille", "achternaam",
             "etternavn", "efternavn", "efternamn", "nazwisko", "apellido", "apellidos", "cognome", "příjmení", "姓"),
    "title": ("title", "salutation", "honorific", "prefix", "titre", "titel", "anrede"),
    "suffix": ("suffix", "post-nominals", "postnominals", "letters", "letters after name"),
    "post": ("post", "position", "role", "office", "job title", "rank", "function", "capacity", "duty", "appointment"),
    "award": ("award", "category", "prize", "class", "event", "achievement", "level", "honour", "honor", "for"),
    "school": ("school", "team", "club", "organisation", "organization", "company", "department", "unit", "station",
               "branch", "house", "group", "place", "location"),
    "season": ("season", "year", "date", "years", "term", "period", "years of service", "jahr", "année", "año", "anno"),
    "text": ("text", "wording", "message", "dedication", "line", "line 2", "line 1", "verse", "epitaph"),
    COPIES: ("copies", "how many", "quantity", "qty", "no of copies", "number of copies", "no. of copies", "count",
             "number", "pieces", "no of plaques", "number of plaques", "amount", "anzahl", "quantité", "cantidad",
             "pcs", "number required", "no. required", "how many?"),
    LANGUAGE: ("language", "lang", "sprache", "langue", "idioma", "lingua"),
}  # fmt: skip
"""Headings by what they mean. Words in common use in lists; no source."""

_MEANS = {fold(word): key for key, words in WORDS.items() for word in words}


def meaning(heading: str) -> str | None:
    """What a heading means, as a key of `WORDS`; None when it is not known."""
    folded = fold(heading)
    if folded in _MEANS:
        return _MEANS[folded]
    bare = re.sub(r"\s*[(\[].*?[)\]]\s*", " ", folded).strip()
    if bare != folded and bare in _MEANS:
        return _MEANS[bare]
    words = folded.split()
    if 1 < len(words) <= 6:
        for word in (words[-1], words[0]):
            if word in ("name", "surname", "recipient", "forename", "awardee"):
                return {"surname": "last", "forename": "first"}.get(word, "name")
    return None


def guess_columns(headings: Mapping[int, str], wanted: Iterable[str] = ()) -> dict[str, tuple[int, ...]]:
    """Our keys for a header's columns (column number → heading): by their own name, then by what they mean.

    `wanted` are keys the order's lines name; each is looked for by itself, and as one of the words that mean the same.
    A name split over title, first, middle, last and suffix is put together in that order.
    """
    found: dict[str, tuple[int, ...]] = {}
    by_word: dict[str, list[int]] = {}
    for column, heading in headings.items():
        by_word.setdefault(fold(heading), []).append(column)
    meanings: dict[str, list[int]] = {}
    for column, heading in headings.items():
        if means := meaning(heading):
            meanings.setdefault(means, []).append(column)
    if "name" in by_word:
        found["name"] = (by_word["name"][0],)
    elif "name" in meanings and not ("first" in meanings and "last" in meanings):
        found["name"] = (meanings["name"][0],)
    elif "last" in meanings:
        parts = ("title", "first", "middle", "last", "suffix") if "first" in meanings else ("last",)
        found["name"] = tuple(meanings[part][0] for part in parts if part in meanings)
    elif "name" in meanings:
        found["name"] = (meanings["name"][0],)
    for key in (COPIES, LANGUAGE, "post", "award", "school", "season", "text"):
        if key in meanings:
            free = [c for c in meanings[key] if not any(c in used for used in found.values())]
            if free:
                found[key] = (free[0],)
    for key in wanted:
        if key in found:
            continue
        same = by_word.get(fold(key)) or by_word.get(fold(key.replace("_", " ").replace("-", " ")))
        means = meaning(key.replace("_", " "))
        if same:
            found[key] = (same[0],)
        elif means and means in found:
            found[key] = found[means]
        elif means and means in meanings:
            found[key] = (meanings[means][0],)
    return found


# --- the header row ---------------------------------------------------------------------------------------------


def heads_of(row: Row) -> dict[int, str]:
    """Column → heading, of the row's cells that hold text (numbers count: a year can head a column)."""
    return {cell.column: cell.shown for cell in row.cells if cell.shown.strip()}


def find_columns(
    sheet: Sheet, given: Mapping[str, str | Sequence[str]], header: int | None, wanted: Iterable[str]
) -> Columns:
    """The header row and the columns of each key.

    `given` is the order's `columns`, `header` its `header`, `wanted` the keys its lines name. CannotRun when the
    header, or a column, is not there: what was found, and what is nearest.
    """
    headings = {key: (word,) if isinstance(word, str) else tuple(word) for key, word in given.items()}
    if header == 0:
        return _no_header(sheet, headings)
    if header is not None:
        row = sheet.row(header)
        if row is None:
            raise CannotRun(
                Fault(
                    where=f"{sheet.path}, sheet “{sheet.name}”",
                    found=f"row {header} is blank, but [list] header names it",
                    expected="the row with the headings",
                    remedy=_rows_seen(sheet),
                )
            )
        return _mapped(sheet, row, headings) if headings else _guessed(sheet, [row], tuple(wanted))
    rows = sheet.rows[:SEARCHED]
    if not headings:
        return _guessed(sheet, list(rows), tuple(wanted))
    every = [fold(word) for words in headings.values() for word in words]
    best = max(rows, key=lambda row: _hits(row, every), default=None)
    if best is None or _hits(best, every) == 0:
        raise CannotRun(
            Fault(
                where=f"{sheet.path}, sheet “{sheet.name}”",
                found="no row has any of the headings of [list] columns",
                expected=", ".join(f"“{word}”" for words in headings.values() for word in words),
                remedy=_rows_seen(sheet),
            )
        )
    return _mapped(sheet, best, headings)


def _hits(row: Row, words: Sequence[str]) -> int:
    have = {fold(text) for text in heads_of(row).values()}
    return sum(word in have for word in words)


def _rows_seen(sheet: Sheet, count: int = 4) -> str:
    """The first rows, so that the maker sees what the tool saw."""
    if not sheet.rows:
        return "the sheet is empty"
    said = []
    for row in sheet.rows[:count]:
        cells = ", ".join(f"“{cell.shown[:30]}”" for cell in row.cells[:8])
        said.append(f"row {row.number} has {cells}")
    more = len(sheet.rows) - count
    return "; ".join(said) + (f"; +{more} more rows" if more > 0 else "")


def _mapped(sheet: Sheet, row: Row, headings: Mapping[str, Sequence[str]]) -> Columns:
    heads = heads_of(row)
    folded: dict[str, list[int]] = {}
    for column, text in heads.items():
        folded.setdefault(fold(text), []).append(column)
    where: list[tuple[str, tuple[int, ...]]] = []
    faults = []
    place = f"{sheet.path}, sheet “{sheet.name}” row {row.number}"
    for key, words in headings.items():
        columns = []
        for word in words:
            there = folded.get(fold(word), [])
            if len(there) > 1:
                there = [c for c in there if c not in sheet.hidden_columns] or there
            if len(there) > 1:
                faults.append(
                    Fault(
                        where=place,
                        found=f"“{word}” heads {len(there)} columns: {', '.join(map(letters, there))}",
                        expected=f"one column for {key}",
                        remedy="give the column by its letter, e.g. "
                        f'{key} = "column {letters(there[0])}", or rename one of them in a copy of the list',
                    )
                )
            elif there:
                columns.append(there[0])
            elif (lettered := _by_letter(word)) is not None:
                columns.append(lettered)
            else:
                hint = nearest(word, heads.values())
                faults.append(
                    Fault(
                        where=place,
                        found=f"no column is headed “{word}”, which [list] columns wants for {key}",
                        expected=f"one of the headings there: {', '.join(f'“{t.strip()}”' for t in heads.values())}",
                        remedy=hint if hint.startswith("did you") else "correct [list] columns, or the header row",
                    )
                )
        where.append((key, tuple(columns)))
    if faults:
        raise CannotRun(faults)
    return Columns(row.number, tuple(where))


def _by_letter(word: str) -> int | None:
    """“column B” names a column by its letter."""
    found = re.fullmatch(r"\s*col(?:umn)?\.?\s+([A-Za-z]{1,3})\s*", word)
    return column_of(found[1]) if found else None


def _no_header(sheet: Sheet, headings: Mapping[str, Sequence[str]]) -> Columns:
    """header = 0: the columns are named by their letters; the first is the name when none are given."""
    if not headings:
        first = min((cell.column for row in sheet.rows for cell in row.cells), default=1)
        return Columns(0, (("name", (first,)),))
    where, faults = [], []
    for key, words in headings.items():
        columns = []
        for word in words:
            column = _by_letter(word) or column_of(word.strip())
            if column is None:
                faults.append(
                    Fault(
                        where=f"{sheet.path}, sheet “{sheet.name}”",
                        found=f"“{word}” is no column's letter, and header = 0 says the list has no headings",
                        expected='a letter for each key, e.g. columns = { name = "A" }',
                    )
                )
            else:
                columns.append(column)
        where.append((key, tuple(columns)))
    if faults:
        raise CannotRun(faults)
    return Columns(0, tuple(where))


def _only_column(sheet: Sheet) -> int:
    """The column of a list that has but one, and no heading; 0 when there are more."""
    used = {cell.column for row in sheet.rows for cell in row.cells}
    return used.pop() if len(used) == 1 else 0


def _guessed(sheet: Sheet, rows: Sequence[Row], wanted: tuple[str, ...]) -> Columns:
    """The row whose headings say most, when the order names no columns."""
    best: tuple[int, Row, dict[str, tuple[int, ...]]] | None = None
    for row in rows:
        heads = heads_of(row)
        if len(heads) > 60 or any(len(text) > 80 for text in heads.values()):
            continue
        found = guess_columns(heads, wanted)
        score = len(found) + sum(key in found for key in wanted)
        if "name" in found and (best is None or score > best[0]):
            best = (score, row, found)
    if best is None and set(wanted) <= {"name"} and (column := _only_column(sheet)):
        return Columns(0, (("name", (column,)),), guessed=True)
    missing = [key for key in wanted if best is None or key not in best[2]]
    if best is None or missing:
        keys = ", ".join(missing or ["name"])
        remedy = (
            _rows_seen(sheet)
            if best is None
            else f"row {best[1].number} has " + ", ".join(f"“{text.strip()}”" for text in heads_of(best[1]).values())
        )
        raise CannotRun(
            Fault(
                where=f"{sheet.path}, sheet “{sheet.name}”",
                found=f"no heading tells which column holds {keys}",
                expected='a header row, or [list] columns = { name = "its heading" }, or header = 0 for a list without',
                remedy=remedy,
            )
        )
    return Columns(best[1].number, tuple(best[2].items()), guessed=True)
