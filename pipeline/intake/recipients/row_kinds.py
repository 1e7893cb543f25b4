"""Rows that aren't recipients: totals, notes, section headings. Certain ones are left out, doubtful ones become
questions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.intake.names.name_words import is_totals_label
from pipeline.intake.recipients.header_guess import is_name
from pipeline.intake.recipients.headings import COPIES, LANGUAGE
from pipeline.intake.spreadsheet.sheet import Row, format_column


@dataclass(frozen=True, slots=True)
class RowVerdict:
    """The apparent kind of a row, and whether it is certain."""

    what: str
    certain: bool


@dataclass(frozen=True, slots=True)
class FillPattern:
    """The usual pattern of filled cells in the list's rows."""

    last_name: int  # last row that has a name and other cells
    company: bool  # nearly every row with a name has other filled cells
    alone_is_odd: bool  # so few names stand alone in their rows that each is worth a question
    usual: int = 0  # usual number of filled cells in a row with a name
    total_row: int = 0  # the last totals row; 0: there is none
    beside: frozenset[tuple[int, str]] = frozenset()  # what stands beside names: column and text


NEARLY_EVERY = 0.65
"""Share of the rows. Common practice, no source."""
FEW_ALONE = 0.1
"""Share of the names up to which one that is alone in its row becomes a question. Common practice, no source."""

_SUBTOTAL = re.compile(r"\s*(?:sub[- ]?total|zwischensumme|sous-total)", re.I)
_NOTE_WORDS = re.compile(
    r"\b(?:please|thanks?|thank you|nb|n\.b\.|note|notes|ps|p\.s\.|check|spelling|spelled|spelt|confirm(?:ed)?|tbc|"
    r"asap|deliver(?:y|ed)?|invoice|contact|phone|e-?mail|deadline|regards|see (?:above|below|tab|sheet)|updated|"
    r"last (?:updated|changed)|printed|page \d+|as of|bitte|merci|gracias|grazie)\b|@|https?:|www\.",
    re.I,
)
_SECTION = re.compile(
    r"\b(?:level|section|group|division|class|team|category|tier|year|grade|district|region|branch|department|winners|"
    r"runners-up|finalists|members|volunteers|staff|new|continued)\b",
    re.I,
)
_LEVEL = re.compile(
    r"(?:gold|silver|bronze|platinum|diamond|copper|patrons?|benefactors?|sponsors?|supporters?|friends|juniors?|seniors?|"
    r"ladies|gentlemen|men|women|girls|boys|mixed|u-?\d\d?s?|under \d\d?s?|(?:19|20)\d\d(?:\s?[-–/]\s?\d{2,4})?)"
    r"(?: (?:donors?|sponsors?|patrons?|supporters?|medallists?|award|awards))?:?",
    re.I,
)
"""Titles of sections in such lists. In common use; no source."""


_COUNT = re.compile(
    r"(?:total:? |in all:? )?\d+ (?:names?|plaques?|medals?|awards?|trophies|trophy|pieces?|recipients?|people|entries|"
    r"winners|namen|schilder|stück|noms|plaques)\b(?: in (?:all|total))?[.!]?",
    re.I,
)
_LETTER = re.compile(
    r"(?:hi|hello|hey|dear|good (?:morning|afternoon|evening)|hallo|liebe[rs]?|sehr geehrte[rs]?|bonjour|hola|"
    r"buongiorno)\b.{0,40}[,!.:]?|(?:with )?(?:best|kind|warm|many|very best) (?:wishes|regards|thanks)\b.{0,20}|"
    r"(?:kind )?regards,?|"
    r"yours (?:sincerely|faithfully|truly|ever),?|cheers,?|thanks?(?: you)?(?: (?:very much|so much|again))?[,!.]?|"
    r"sent from my .*|get outlook for .*|mit (?:freundlichen|besten|herzlichen) grüßen,?|viele grüße,?|cordialement,?|"
    r"(?:from|to|cc|sent|subject|date|von|an|betreff):.*",
    re.I,
)
"""Greetings, closings and headers of letters and e-mails. In common use; no source."""


def _is_number(row: Row) -> bool:
    """Return whether the only other cell is a list number or a bullet."""
    return all(cell.column == 2 or not any(map(str.isalpha, cell.shown)) for cell in row.cells)


def _is_section(text: str) -> bool:
    return bool(_SECTION.search(text) or _LEVEL.fullmatch(text.strip()))


def fill_pattern(rows: Sequence[Row], at: Mapping[str, tuple[int, ...]], name: str) -> FillPattern:
    """Determine the pattern of the rows below the header, in one pass."""
    named = accompanied = last = last_named = total = 0
    own = set(at.get(name, ()))
    widths: Counter[int] = Counter()
    beside: set[tuple[int, str]] = set()
    for row in rows:
        filled = {cell.column for cell in row.cells if cell.shown.strip()}
        if filled <= own and any(_is_section(cell.shown) for cell in row.cells):
            continue
        if any(cell.kind == "text" and is_totals_label(cell.shown) for cell in row.cells):
            total = row.number
        if filled & own:
            widths[len(filled)] += 1
            named += 1
            last_named = row.number
            if filled - own:
                beside |= {(cell.column, cell.shown.strip()) for cell in row.cells if cell.column not in own}
                accompanied += 1
                last = row.number
    numbered = bool(rows) and min(own, default=1) == 2 and all(_is_number(row) for row in rows)
    company = named > 2 and accompanied >= (0.4 if numbered else NEARLY_EVERY) * named
    few = numbered or named - accompanied <= max(2, FEW_ALONE * named)
    usual = widths.most_common(1)[0][0] if widths else 0
    last_name = last if company else last_named
    return FillPattern(last_name, company, few, usual, total if total >= last else 0, frozenset(beside))


def classify_row(row: Row, at: Mapping[str, tuple[int, ...]], name: str, habits: FillPattern) -> RowVerdict | None:
    """Classify a row that isn't, or may not be, a recipient."""
    filled = {cell.column: cell for cell in row.cells if cell.shown.strip()}
    if not filled:
        return RowVerdict("a row of spaces", True)
    own = [c for c in at.get(name, ()) if c in filled]
    lettering = [c for key, where in at.items() if key not in (name, COPIES, LANGUAGE) for c in where if c in filled]
    copies = [c for c in at.get(COPIES, ()) if c in filled]
    says_total = any(is_totals_label(cell.shown) for cell in filled.values() if cell.kind == "text")
    named_so = is_totals_label(" ".join(filled[c].shown for c in own))
    if says_total and (not own or (named_so and not lettering)):
        return RowVerdict("a totals row", True)
    if says_total and named_so:
        return RowVerdict("a totals row", False)  # it has something where others have a post or a year: maybe a person
    if own and _COUNT.fullmatch(" ".join(filled[own[0]].shown.split())):
        return RowVerdict("a note", True)
    if not own:
        return _classify_nameless(filled, lettering, copies, row, habits)
    if lettering or copies:
        return RowVerdict("a note below the total", False) if 0 < habits.total_row < row.number else None
    text = " ".join(filled[c].shown for c in own)
    if _LETTER.fullmatch(" ".join(text.split())):
        return RowVerdict("a line of a letter", habits.company)
    remark = bool(_NOTE_WORDS.search(text)) and (len(text.split()) > 3 or "@" in text or "://" in text)
    sentence = len(text.split()) > 7 or (text.rstrip().endswith((".", "!", "?", ":")) and len(text.split()) > 4)
    if habits.company and len(filled) == len(own):
        if remark or (sentence and row.number > habits.last_name):
            return RowVerdict("a note", True)
        if _is_section(text):
            return RowVerdict("a section heading", row.number < habits.last_name)
        if habits.alone_is_odd or not is_name(text):
            return RowVerdict("a note" if row.number > habits.last_name else "a section heading", False)
    if habits.company and len(filled) > len(own):
        return None
    if remark:
        return RowVerdict("a note", False)
    asks = text.rstrip().endswith(("?", "？"))  # however short, a question isn't a name
    return RowVerdict("a sentence", False) if sentence and (asks or len(text) > 60) else None


def _classify_nameless(
    filled: Mapping[int, object], lettering: Sequence[int], copies: Sequence[int], row: Row, habits: FillPattern
) -> RowVerdict | None:
    if not lettering and not copies:
        whole = habits.usual > 2 and len(filled) >= 0.5 * habits.usual
        whole |= {(cell.column, cell.shown.strip()) for cell in row.cells if cell.column in filled} <= habits.beside
        if whole and row.number <= habits.last_name:  # filled like the others: only its name is missing
            return None
        alone = len(filled) == 1 and row.number < habits.last_name and len(row.cells[0].shown.split()) < 5
        return RowVerdict("a section heading" if alone and row.cells[0].kind == "text" else "a note", True)
    if copies and not lettering and row.number > habits.last_name:
        return RowVerdict("a totals row", True)
    cells = [cell for cell in row.cells if cell.column in lettering]
    if len(filled) == 1 and cells and (_NOTE_WORDS.search(cells[0].shown) or len(cells[0].shown.split()) > 7):
        return RowVerdict("a note", True)
    return None


_STATED = re.compile(
    r"(?<![\d.,£$€-])(\d{1,5})\s+(?:plaques?|medals?|awards?|trophies|names?|recipients?|pieces?|shields?|plates?)\b",
    re.I,
)


_ASKS = re.compile(
    r"\b(?:each|engraved?|engraving|spell(?:ing|ed|t)?|capitals?|fonts?|typeface|colou?r|copies|spare|deadline|deliver(?:y|ed)?|"
    r"exactly|same as|instead|by (?:the )?\d|before (?:the )?\d|jeweils|je \d|gravieren|bis (?:zum )?\d|graver|chacun|"
    r"avant le)\b",
    re.I,
)


def is_instruction(text: str) -> bool:
    """Return whether a remark on the sheet is meant for whoever makes the plaques."""
    return bool(_ASKS.search(text)) and len(text.split()) > 2


def find_stated_count(row: Row) -> tuple[str, int] | None:
    """Find “42 medals” in a title or a note: its cell and the number. None where there is none, or more than one."""
    found = [(cell.address, int(number)) for cell in row.cells for number in _STATED.findall(cell.shown)]
    return found[0] if len(found) == 1 else None


def find_stated_total(row: Row, columns: Sequence[int]) -> tuple[str, float] | None:
    """Find the number in the copies column of a row that totals the whole list, or behind the word, with its cell."""
    if any(_SUBTOTAL.match(cell.shown) for cell in row.cells):
        return None
    for column in columns:
        cell = row.find_cell(column)
        if cell is not None and cell.kind == "number" and isinstance(cell.value, int | float):
            return f"{format_column(column)}{row.number}", float(cell.value)
        if cell is not None and cell.kind == "text" and cell.shown.strip().isdigit():
            return f"{format_column(column)}{row.number}", float(cell.shown)
    labels = (cell for cell in row.cells if is_totals_label(cell.shown))
    behind = ((cell.address, found[0]) for cell in labels if (found := re.search(r"\d{1,5}(?=\s*$)", cell.shown)))
    return next(((address, float(number)) for address, number in behind), None)
