"""Plan a first order for a client's list: sheet, header, columns, and lines of lettering that use them.

Certain choices are kept apart from likely ones: every unsure choice is marked in the order file.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.intake.names.confusables import get_script, get_script_name
from pipeline.intake.names.wording import shorten
from pipeline.intake.order.toml_text import format_toml
from pipeline.intake.recipients.header_guess import LOOKED_AT, read_top_headings
from pipeline.intake.recipients.header_row import ColumnMap, Header, describe_rows, guess_header, may_hold_names
from pipeline.intake.recipients.headings import COPIES, PIECES, find_meaning, fold_heading
from pipeline.intake.recipients.outside_rows import list_few, name_sheet
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions, Row, Sheet, describe_row, format_column
from pipeline.intake.spreadsheet.sheet_areas import (
    LAST_ROW,
    SheetArea,
    clip_rows,
    find_block_around,
    find_lists_beside,
    parse_areas,
)

CHECK = "check this"
"""Marks every choice a person should check."""

BADGE = "badge"
"""Our key of a column that names drawings."""

MOST_SHEETS = 8
"""Most sheets that are searched for the list."""
MOST_NAMELESS = 12

FACES = {
    "Latn": "noto-sans", "Grek": "noto-sans", "Cyrl": "noto-sans", "Hebr": "frank-ruhl-libre",
    "Arab": "noto-naskh-arabic", "Hani": "droid-sans-fallback", "Hira": "droid-sans-fallback",
    "Kana": "droid-sans-fallback", "Hang": "droid-sans-fallback",
}  # fmt: skip
"""Script (ISO 15924) -> typeface on the shelf that sets it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListChoice:
    """A choice and its reason; `sure` is false if a person should check it."""

    value: str
    why: str
    sure: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BadgeColumn:
    """A column whose cells name drawings beside the list."""

    column: int
    choice: ListChoice
    files: tuple[str, ...]  # drawings that the column names
    suffix: str  # the suffix most of them have


@dataclass(frozen=True, slots=True, kw_only=True)
class ListColumns:
    """The columns of the list, and the key of each."""

    heads: Mapping[int, str]  # column -> heading; empty for a list without headings
    map: ColumnMap
    rows: tuple[Row, ...]  # rows below the header

    @property
    def filled(self) -> set[int]:
        """Columns that hold anything."""
        return {cell.column for row in self.rows for cell in row.cells if cell.shown.strip()}

    def build_choice(self, where: Sequence[int], why: str = "", *, sure: bool = True) -> ListChoice:
        """Return how these columns are named in the order file. why: the reason, instead of their first values; sure: a
        column without a heading stays unsure."""
        found = _choose_column(where, self.heads, self.map, self.rows)
        said = f"{_describe_place(where)}: {why}{_list_examples(self.rows, where)}" if why else found.why
        return dataclasses.replace(found, why=said, sure=sure and found.sure)

    def list_unused(self, known: Collection[int]) -> tuple[str, ...]:
        """Return the headings of all other columns."""
        return tuple(" ".join(text.split()) for column, text in self.heads.items() if column not in known)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOrderPlan:
    """What was found in a list."""

    list_name: str  # its name in the order folder
    title: ListChoice
    sheet: ListChoice | None  # None for a text file
    area: ListChoice | None  # set where the sheet has several lists side by side, or one was asked for
    header: ListChoice
    columns: tuple[tuple[str, ListChoice], ...]  # our key -> heading(s), as TOML
    unused: tuple[str, ...]  # headings that no line uses
    nameless: tuple[str, ...]  # columns with values but no heading, in words
    faces: tuple[str, ...]  # the first one sets most of the letters
    unset: tuple[str, ...]  # scripts that no typeface of the shelf covers
    recipients: int
    found: ListColumns
    badge: BadgeColumn | None = None

    @property
    def guessed(self) -> bool:
        """Return whether the place of the list is a guess. It stays a question until a person has checked it."""
        where = [self.header, *(choice for _, choice in self.columns)]
        where += [choice for choice in (self.sheet, self.area) if choice is not None]
        return not all(choice.sure for choice in where)

    @property
    def unsure(self) -> list[str]:
        """The choices to check, in words."""
        every = [
            ("title", self.title),
            ("sheet", self.sheet),
            ("area", self.area),
            ("header", self.header),
            *self.columns,
        ]
        doubts = [f"{name}: {choice.why}" for name, choice in every if choice is not None and not choice.sure]
        return doubts + [f"not used, because it has no heading: {words}" for words in self.nameless]


def plan_order(
    path: Path, area: str | None = None, sheet_name: str | None = None, drawings: Sequence[str] = ()
) -> NewOrderPlan:
    """Return a plan for a list, or an area of it. drawings: names of drawings that lie beside it. CannotRun if it
    cannot be read or holds nothing like a name."""
    whole, why_sheet = _choose_sheet(path, sheet_name)
    sheet = clip_rows(whole, parse_areas(area))
    if not sheet.rows:
        raise CannotRun(Fault(where=str(path), found=f"no cell of {area} holds anything", remedy=describe_rows(whole)))
    columns, head, sure_header, why_header = _guess_columns(sheet)
    part = ListChoice(value=area, why="asked for") if area else _choose_area(sheet, columns)
    title = _choose_title(sheet, columns, path)
    if part is not None and not area:  # ignore the headings of a neighbouring list
        sheet = clip_rows(whole, parse_areas(part.value))
        title = _choose_title(
            clip_rows(whole, [dataclasses.replace(a, top=1) for a in parse_areas(part.value)]), columns, path
        )
        columns, head, sure_header, why_header = _guess_columns(sheet)
    at = columns.at
    below = [row for row in sheet.rows if row.number > columns.header and not describe_row(sheet, row).part]
    heads = head.heads if head is not None else {}
    badge = _find_badge_column(below, drawings, set(at["name"]), heads, columns)
    at = {key: where for key, where in at.items() if badge is None or badge.column not in where}
    at = _pass_over_ranks(below, at, heads)
    if any(is_numbering(below, column, heads.get(column, "")) for column in at.get(COPIES, ())):
        del at[COPIES]
    found = ListColumns(heads=heads, map=columns, rows=tuple(below))
    # Under headings in unknown words, the column that looks most like names may be that of places or teams.
    chosen = tuple((key, found.build_choice(where, sure=sure_header or key != "name")) for key, where in at.items())
    used = {column for where in at.values() for column in where}
    if COPIES not in at and (counted := _find_count_column(below, heads, used)) is not None:
        choice = found.build_choice((counted,))
        why = f"{choice.why}, whole numbers under a word for pieces"
        chosen = (*chosen, (COPIES, dataclasses.replace(choice, why=why, sure=False)))
        used.add(counted)
    if badge is not None:
        chosen = (*chosen, (BADGE, badge.choice))
        known = used | {badge.column}
    else:
        known = used
    faces, unset = _choose_faces(below, used)
    names = sum(any(row.find_cell(c) is not None for c in at["name"]) for row in below)
    return NewOrderPlan(
        list_name=choose_file_name(path),
        title=title,
        sheet=None if sheet.read_by == "text" else why_sheet,
        area=part,
        header=ListChoice(value=str(columns.header), why=why_header, sure=sure_header),
        columns=chosen,
        unused=found.list_unused(known),
        nameless=_list_nameless(below, known | set(heads), letters_only=not columns.header),
        faces=faces,
        unset=unset,
        recipients=names,
        found=found,
        badge=badge,
    )


def _pass_over_ranks(
    rows: Sequence[Row], at: Mapping[str, tuple[int, ...]], heads: Mapping[int, str]
) -> dict[str, tuple[int, ...]]:
    """Take another column, or none, for where somebody comes from and for a post, where the one under "Place" or
    "Position" says who came first."""
    taken = {column for where in at.values() for column in where}
    kept = dict(at)
    for key in ("post", "school"):
        if key in kept and _is_ranking(rows, kept[key]):
            alike = (c for c, text in heads.items() if c not in taken and find_meaning(text) == key)
            kept[key] = tuple(c for c in alike if not _is_ranking(rows, (c,)))[:1]
    return {key: where for key, where in kept.items() if where}


def _is_ranking(rows: Sequence[Row], where: Sequence[int]) -> bool:
    """Return whether most cells of a column say who came first."""
    texts = [cell.shown.strip() for row in rows for c in where if (cell := row.find_cell(c)) is not None]
    ranks = sum(re.fullmatch(r"=?\d{1,3}(?:st|nd|rd|th|\.)?=?", text, re.I) is not None for text in texts)
    return 2 * ranks > len(texts)


def is_numbering(rows: Sequence[Row], column: int, heading: str) -> bool:
    """Return whether a column headed "Number" holds the numbers of pieces, or of houses: no two are alike."""
    if fold_heading(heading) != "number":
        return False
    texts = [c.shown.strip() for row in rows if (c := row.find_cell(column)) is not None and c.shown.strip()]
    return len(texts) > 2 and len(set(texts)) == len(texts)


def _find_count_column(rows: Sequence[Row], heads: Mapping[int, str], used: Collection[int]) -> int | None:
    """Return the first column headed by a word for pieces, as "Plates", most of whose cells hold whole numbers below
    1,000 that don't run on by ones, as the pieces' own numbers do; None if there is none."""
    for column in sorted(set(heads) - set(used)):
        if fold_heading(heads[column]).split()[-1:] and fold_heading(heads[column]).split()[-1] in PIECES:
            cells = [c.shown.strip() for row in rows if (c := row.find_cell(column)) is not None and c.shown.strip()]
            counts = [int(text) for text in cells if text.isascii() and text.isdigit() and len(text) <= 3]
            numbered = (
                len(cells) > 2 and len(counts) == len(cells) and {b - a for a, b in itertools.pairwise(counts)} == {1}
            )
            if 2 * len(counts) > len(cells) and not numbered:
                return column
    return None


def _find_badge_column(
    rows: Sequence[Row], drawings: Sequence[str], names: set[int], heads: dict[int, str], columns: ColumnMap
) -> BadgeColumn | None:
    """Return the column most of whose cells name one of the drawings, with or without its ending; None if there is
    none."""
    known = {name.casefold(): name for name in drawings}
    known |= {Path(name).stem.casefold(): name for name in sorted(drawings, reverse=True)}
    said: dict[int, list[str]] = {}
    for row in rows:
        for cell in row.cells:
            if cell.column not in names and cell.shown.strip():
                said.setdefault(cell.column, []).append(cell.shown.strip().casefold())
    best: tuple[int, int] | None = None
    for column, texts in sorted(said.items()):
        hits = sum(text in known for text in texts)
        if 2 * hits > len(texts) and (best is None or hits > best[0]):
            best = (hits, column)
    if best is None:
        return None
    hits, column = best
    files = tuple(sorted({known[text] for text in said[column] if text in known}))
    choice = _choose_column([column], heads, columns, rows)
    why = f"{_describe_place([column])}: {hits} of {len(said[column])} cells name drawings beside the list"
    suffix = Counter(Path(name).suffix.lower() for name in files).most_common(1)[0][0]
    return BadgeColumn(
        column=column, choice=dataclasses.replace(choice, why=why, sure=False), files=files, suffix=suffix
    )


# --- the sheet ---------------------------------------------------------------------------------------------------


def _choose_sheet(path: Path, wanted: str | None) -> tuple[Sheet, ListChoice]:
    """Return the sheet asked for, or the visible one whose headings fit best; of equals, the longer one."""
    if wanted is not None:
        asked = read_sheet(path, ReadOptions(sheet=wanted))
        return asked, ListChoice(value=asked.name, why="asked for")
    first = read_sheet(path)
    names = [name for name, state in first.others if not state][: MOST_SHEETS - 1]
    sheets = [first, *(read_sheet(path, ReadOptions(sheet=name)) for name in names)]
    if not any(sheet.rows for sheet in sheets):
        raise CannotRun(Fault(where=str(path), found="the sheet is empty", expected="the client's list"))
    best = max(sheets, key=lambda sheet: (_rate_sheet(sheet), len(sheet.rows)))
    if len(sheets) == 1 and not first.others:
        return best, ListChoice(value=best.name, why="the only sheet")
    others = list_few([name_sheet(*other) for other in best.others], MOST_SHEETS)
    all_seen = len(names) == sum(not state for _, state in first.others)
    alone = all_seen and not any(may_hold_names(sheet) for sheet in sheets if sheet is not best)
    why = f"the sheet whose headings fit best; the file also has {others}: for an order of its own, `--sheet NAME`"
    return best, ListChoice(value=best.name, why=why, sure=alone and _rate_sheet(best) > 0)


def _rate_sheet(sheet: Sheet) -> int:
    """Count the keys that a sheet's best header offers; 0 without a name."""
    guess = guess_header(sheet)
    return len(guess.keys) if guess.head is not None and len(sheet.rows) > 1 else 0


def _choose_area(sheet: Sheet, columns: ColumnMap) -> ListChoice | None:
    """Return the area of the list whose columns were found, if there is another list beside it."""
    used = [column for where in columns.at.values() for column in where]
    others = find_lists_beside(sheet, columns.at["name"], columns.header)
    if not others:
        return None
    left, right = find_block_around(sheet, used, columns.header)
    own = SheetArea(columns.first or columns.header, left, LAST_ROW, right)
    said = " and ".join(f"in {other.area} with {other.names} names" for other in others)
    why = f"only this list; there is another beside it, {said}: for an order of its own, `--area {others[0].area}`"
    return ListChoice(value=str(own), why=why, sure=False)


# --- header and columns ------------------------------------------------------------------------------------------


def _guess_columns(sheet: Sheet) -> tuple[ColumnMap, Header | None, bool, str]:
    """Return columns and header, whether they are certain, and why."""
    guess = guess_header(sheet)
    head = guess.head
    if "name" not in guess.keys:
        raise CannotRun(
            Fault(
                where=f"{sheet.path}, sheet “{sheet.name}”",
                found="no column looks like names",
                expected="a column with text in most of its rows",
                remedy="write the order by hand: [list] columns names the columns",
            )
        )
    first, last = (head.first, head.last) if head is not None else (0, 0)
    where = ColumnMap(last, tuple(guess.keys.items()), guessed=True, first=first if first != last else 0)
    return where, head, guess.sure, guess.why


def _choose_column(
    where: Sequence[int], heads: Mapping[int, str], columns: ColumnMap, rows: Sequence[Row]
) -> ListChoice:
    """Return the headings of a key's columns, or their letters if the headings are not distinct."""
    shown = _list_examples(rows, where)
    if not columns.header:
        why = f"{_describe_place(where)}, by what the cells hold{shown}"
        return ListChoice(value=format_toml([format_column(c) for c in where]), why=why, sure=False)
    counts = Counter(fold_heading(text) for text in heads.values())
    words = []
    for column in where:
        heading = " ".join(heads.get(column, "").split())
        usable = fold_heading(heading) and counts[fold_heading(heading)] == 1 and "\ufffd" not in heading
        words.append(heading if usable else f"column {format_column(column)}")
    certain = all(fold_heading(heads.get(column, "")) for column in where)
    return ListChoice(value=format_toml(words), why=f"{_describe_place(where)}{shown}", sure=certain)


def _list_nameless(rows: Sequence[Row], known: set[int], *, letters_only: bool) -> tuple[str, ...]:
    """Describe the columns without a heading that no line uses, each with examples."""
    told = str.isalpha if letters_only else str.isprintable
    columns = sorted({cell.column for row in rows for cell in row.cells if any(map(told, cell.shown))} - known)
    shown = [f"{_describe_place([column])}{_list_examples(rows, [column])}" for column in columns[:MOST_NAMELESS]]
    return (*shown, f"and {len(columns) - len(shown)} more columns") if len(columns) > len(shown) else tuple(shown)


def _describe_place(where: Sequence[int]) -> str:
    return f"column{'s' if len(where) > 1 else ''} {' + '.join(map(format_column, where))}"


def _list_examples(rows: Sequence[Row], where: Sequence[int]) -> str:
    """Return the first values of a column, for the comment beside it."""
    said = (" ".join(cell.shown for c in where if (cell := row.find_cell(c)) is not None) for row in rows)
    first = [shorten(clean_text(text), 30) for text in itertools.islice((text for text in said if text.strip()), 3)]
    return f": {', '.join(first)} …" if first else ""


# --- title, faces, file name -------------------------------------------------------------------------------------


_SUBJECT = re.compile(
    r"(?:subject|betreff|objet|asunto|assunto|oggetto|onderwerp|ämne|temat)\s?:\s*"
    r"(?:(?:re|aw|fwd?|wg|rv|tr)\s?:\s*)*(.*\w.*)",
    re.I,
)


def _choose_title(sheet: Sheet, columns: ColumnMap, path: Path) -> ListChoice:
    """Return the first line above the list that is neither a remark nor a sentence, or the file's name."""
    header = columns.first or columns.header
    letter = (row.cells[0].shown for row in sheet.rows if describe_row(sheet, row).part)
    if subject := next((found for line in letter if (found := _SUBJECT.match(line))), None):
        return ListChoice(value=clean_text(subject[1]), why="the subject of the message", sure=False)
    if header:
        banner = [row for row in sheet.rows if row.number < header]
    else:
        top = read_top_headings(sheet, columns.at["name"])
        banner = [row for row in sheet.rows[:LOOKED_AT] if top.get(row.number) == "a title"]
    above = [
        " ".join(cell.shown.split())
        for row in banner
        if not describe_row(sheet, row).part
        for cell in row.cells
        if cell.kind == "text" and 3 < len(cell.shown.strip()) <= 80 and not _NO_TITLE.search(cell.shown)
    ]
    if above:
        return ListChoice(value=clean_text(above[0]), why="the text above the list", sure=False)
    stem = clean_text(re.sub(r"[_\-.]+", " ", path.stem).strip())
    return ListChoice(value=stem or "New order", why="the list's file name", sure=False)


def _choose_faces(rows: Sequence[Row], used: set[int]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return typefaces for the scripts of the columns that are lettered, the most used first."""
    seen: Counter[str] = Counter()
    for row in rows:
        for cell in row.cells:
            if cell.column in used and cell.kind == "text":
                if cell.shown.isascii():
                    seen["Latn"] += len(cell.shown)
                else:
                    seen.update(get_script(c) for c in cell.shown if c.isalpha())
    seen["Latn"] += 1
    order = [script for script, _ in seen.most_common() if script not in ("Zyyy", "Zinh", "Zzzz")]
    faces = tuple(dict.fromkeys(FACES[script] for script in order if script in FACES))
    return faces, tuple(get_script_name(script) for script in order if script not in FACES)


_NO_TITLE = re.compile(
    r"^\W*(?:table|sheet|tabelle|tableau|tabla|feuil|blatt|hoja|unnamed)\s?\d*\W*$|"
    r"^\W*(?:thanks?|hi|hello|dear|merci)\b|\b(?:please|queries|contact|bitte|e-?mail)\b|@|[.!?]\s+\w",
    re.I,
)
"""Default names of sheets, and remarks to the engraver: neither is a title."""

_DEVICES = re.compile(r"(?i)(?:con|prn|aux|nul|com\d|lpt\d|conin\$|conout\$)(?:\..*)?")


def clean_text(text: str, most: int = 120) -> str:
    """Return the text on one line, without invisible characters and no longer than this."""
    kept = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in unicodedata.normalize("NFC", text))
    return " ".join(kept.split())[:most]


def choose_file_name(path: Path, otherwise: str = "list") -> str:
    """Return a file's own name if every system can store it, else `otherwise` with its suffix."""
    name = path.name
    odd = re.search(r'[<>:"/\\|?*\x00-\x1f]', name) or name != clean_text(name) or name[0] in " .~-" or len(name) > 100
    if odd or name.rstrip(". ") != name or _DEVICES.fullmatch(name):
        return f"{otherwise}{path.suffix.lower()}"
    return name


def choose_folder_name(path: Path) -> str:
    """Return a name for the order folder of a list: letters, digits and hyphens."""
    text = unicodedata.normalize("NFKD", path.stem).casefold()
    slug = re.sub(r"[^a-z0-9]+", "-", "".join(c for c in text if not unicodedata.combining(c))).strip("-")[:60]
    return "order" if not slug else f"order-{slug}" if _DEVICES.fullmatch(slug) else slug
