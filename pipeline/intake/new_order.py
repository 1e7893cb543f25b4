"""Plan a first order for a client's list: sheet, header, columns, and lines of lettering that use them.

What is certain and what is only likely is kept apart: every unsure choice is marked in the file that is written.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.units import UnitName
from pipeline.intake.names.confusables import script_name, script_of
from pipeline.intake.recipients.header_guess import LOOKED_AT, at_the_top
from pipeline.intake.recipients.header_row import ColumnMap, Header, describe_rows, guess_header
from pipeline.intake.recipients.headings import COPIES, LANGUAGE, fold_heading
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions, Row, Sheet, column_letters, row_told
from pipeline.intake.spreadsheet.sheet_areas import (
    LAST_ROW,
    SheetArea,
    block_around,
    lists_beside,
    parse_areas,
    rows_within,
)

CHECK = "check this"
"""Marks every choice a person should check."""

BADGE = "badge"
"""Our key of a column that names drawings."""

MOST_SHEETS = 8
"""How many sheets are searched for the list."""
MOST_LINES = 4
MOST_NAMELESS = 12
LINE_ORDER = ("award", "text", "post", "school", "season")

TRACKING = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingSizes:
    """A plain plate and sizes that can be cut with the usual V-bit: a starting point; common practice, no source."""

    width: float
    height: float
    thickness: float
    margin: float
    cap_height: float
    smallest: float
    line_cap_height: float
    line_smallest: float


STARTING: dict[UnitName, StartingSizes] = {
    "mm": StartingSizes(
        width=120.0, height=60.0, thickness=6.0, margin=4.0,
        cap_height=8.0, smallest=4.0, line_cap_height=4.0, line_smallest=3.0,
    ),
    "in": StartingSizes(
        width=5.0, height=2.5, thickness=0.25, margin=0.15,
        cap_height=0.3, smallest=0.16, line_cap_height=0.16, line_smallest=0.12,
    ),
}  # fmt: skip
"""In the order's unit."""

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
    """A column whose cells name drawings that lie beside the list."""

    column: int
    choice: ListChoice
    files: tuple[str, ...]  # the drawings it names
    suffix: str  # the ending most of them have


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOrderPlan:
    """What was found in a list."""

    list_name: str  # as it will stand in the order folder
    title: ListChoice
    sheet: ListChoice | None  # None for a text file
    area: ListChoice | None  # where the sheet has several lists side by side, or one was asked for
    header: ListChoice
    columns: tuple[tuple[str, ListChoice], ...]  # our key -> heading(s), written as TOML
    unused: tuple[str, ...]  # headings that no line shows
    nameless: tuple[str, ...]  # columns that hold something and have no heading, in words
    faces: tuple[str, ...]  # the first sets most of the letters
    unset: tuple[str, ...]  # alphabets no face of the shelf has
    recipients: int
    badge: BadgeColumn | None = None

    @property
    def guessed(self) -> bool:
        """Whether the place of the list is a guess. It stays a question until a person has checked it."""
        where = [self.header, *(choice for _, choice in self.columns)]
        return any(not choice.sure for choice in where) or (self.area is not None and not self.area.sure)

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
    whole, why_sheet = _best_sheet(path, sheet_name)
    sheet = rows_within(whole, parse_areas(area))
    if not sheet.rows:
        raise CannotRun(Fault(where=str(path), found=f"no cell of {area} holds anything", remedy=describe_rows(whole)))
    columns, head, sure_header, why_header = _columns(sheet)
    part = ListChoice(value=area, why="asked for") if area else _area(sheet, columns)
    title = _title(sheet, columns, path)
    if part is not None and not area:  # the headings of the list beside it are no concern of this one
        sheet = rows_within(whole, parse_areas(part.value))
        title = _title(
            rows_within(whole, [dataclasses.replace(a, top=1) for a in parse_areas(part.value)]), columns, path
        )
        columns, head, sure_header, why_header = _columns(sheet)
    at = columns.at
    below = [row for row in sheet.rows if row.number > columns.header and not row_told(sheet, row).part]
    heads = head.heads if head is not None else {}
    badge = _badge_column(below, drawings, set(at["name"]), heads, columns)
    at = {key: where for key, where in at.items() if badge is None or badge.column not in where}
    chosen = tuple((key, _column_choice(where, heads, columns, below)) for key, where in at.items())
    used = {column for where in at.values() for column in where}
    if badge is not None:
        chosen = (*chosen, (BADGE, badge.choice))
        known = used | {badge.column}
    else:
        known = used
    faces, unset = _faces(below, used)
    names = sum(any(row.cell(c) is not None for c in at["name"]) for row in below)
    return NewOrderPlan(
        list_name=_plain_file_name(path),
        title=title,
        sheet=None if sheet.read_by == "text" else why_sheet,
        area=part,
        header=ListChoice(value=str(columns.header), why=why_header, sure=sure_header),
        columns=chosen,
        unused=tuple(" ".join(text.split()) for column, text in heads.items() if column not in known),
        nameless=_nameless(below, known | set(heads), letters_only=not columns.header),
        faces=faces,
        unset=unset,
        recipients=names,
        badge=badge,
    )


def _badge_column(
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
    choice = _column_choice([column], heads, columns, rows)
    why = f"{_place([column])}: {hits} of {len(said[column])} cells name drawings beside the list"
    suffix = Counter(Path(name).suffix.lower() for name in files).most_common(1)[0][0]
    return BadgeColumn(
        column=column, choice=dataclasses.replace(choice, why=why, sure=False), files=files, suffix=suffix
    )


# --- the sheet ---------------------------------------------------------------------------------------------------


def _best_sheet(path: Path, wanted: str | None) -> tuple[Sheet, ListChoice]:
    """Return the sheet asked for, or the visible one whose headings fit best; of equals, the longer one."""
    if wanted is not None:
        asked = read_sheet(path, ReadOptions(sheet=wanted))
        return asked, ListChoice(value=asked.name, why="asked for")
    first = read_sheet(path)
    names = [name for name, state in first.others if not state][: MOST_SHEETS - 1]
    sheets = [first, *(read_sheet(path, ReadOptions(sheet=name)) for name in names)]
    if not any(sheet.rows for sheet in sheets):
        raise CannotRun(Fault(where=str(path), found="the sheet is empty", expected="the client's list"))
    best = max(sheets, key=lambda sheet: (_promise(sheet), len(sheet.rows)))
    if len(sheets) == 1 and not first.others:
        return best, ListChoice(value=best.name, why="the only sheet")
    others = ", ".join(f"“{name}”" + (" (hidden)" if state else "") for name, state in best.others)
    rivals = [s for s in sheets if s is not best and _promise(s) >= max(_promise(best), 1)]
    why = f"the sheet whose headings fit best; the file also has {others}: for an order of its own, `--sheet NAME`"
    return best, ListChoice(value=best.name, why=why, sure=not rivals and _promise(best) > 0)


def _promise(sheet: Sheet) -> int:
    """Count the keys that a sheet's best header offers; 0 without a name."""
    guess = guess_header(sheet)
    return len(guess.keys) if guess.head is not None and len(sheet.rows) > 1 else 0


def _area(sheet: Sheet, columns: ColumnMap) -> ListChoice | None:
    """Return the area of the list whose columns were found, if there is another list beside it."""
    used = [column for where in columns.at.values() for column in where]
    others = lists_beside(sheet, columns.at["name"], columns.header)
    if not others:
        return None
    left, right = block_around(sheet, used, columns.header)
    own = SheetArea(columns.first or columns.header, left, LAST_ROW, right)
    said = " and ".join(f"in {other.area} with {other.names} names" for other in others)
    why = f"only this list; there is another beside it, {said}: for an order of its own, `--area {others[0].area}`"
    return ListChoice(value=str(own), why=why, sure=False)


# --- header and columns ------------------------------------------------------------------------------------------


def _columns(sheet: Sheet) -> tuple[ColumnMap, Header | None, bool, str]:
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


def _column_choice(where: Sequence[int], heads: dict[int, str], columns: ColumnMap, rows: Sequence[Row]) -> ListChoice:
    """Return the headings of a key's columns, or their letters if the headings are not distinct."""
    shown = _examples(rows, where)
    if not columns.header:
        why = f"{_place(where)}, by what the cells hold{shown}"
        return ListChoice(value=format_toml([column_letters(c) for c in where]), why=why, sure=False)
    counts = Counter(fold_heading(text) for text in heads.values())
    words = []
    for column in where:
        heading = " ".join(heads.get(column, "").split())
        usable = fold_heading(heading) and counts[fold_heading(heading)] == 1 and "\ufffd" not in heading
        words.append(heading if usable else f"column {column_letters(column)}")
    certain = all(fold_heading(heads.get(column, "")) for column in where)
    return ListChoice(value=format_toml(words), why=f"{_place(where)}{shown}", sure=certain)


def _nameless(rows: Sequence[Row], known: set[int], *, letters_only: bool) -> tuple[str, ...]:
    """Describe the columns without a heading that no line uses, each with examples."""
    told = str.isalpha if letters_only else str.isprintable
    columns = sorted({cell.column for row in rows for cell in row.cells if any(map(told, cell.shown))} - known)
    shown = [f"{_place([column])}{_examples(rows, [column])}" for column in columns[:MOST_NAMELESS]]
    return (*shown, f"and {len(columns) - len(shown)} more columns") if len(columns) > len(shown) else tuple(shown)


def _place(where: Sequence[int]) -> str:
    return f"column{'s' if len(where) > 1 else ''} {' + '.join(map(column_letters, where))}"


def _examples(rows: Sequence[Row], where: Sequence[int]) -> str:
    """Return the first values of a column, for the comment beside it."""
    said = (" ".join(cell.shown for c in where if (cell := row.cell(c)) is not None) for row in rows)
    first = [clean_text(text)[:30] for text in itertools.islice((text for text in said if text.strip()), 3)]
    return f": {', '.join(first)} …" if first else ""


# --- title, faces, file name -------------------------------------------------------------------------------------


_SUBJECT = re.compile(
    r"(?:subject|betreff|objet|asunto|assunto|oggetto|onderwerp|ämne|temat)\s?:\s*"
    r"(?:(?:re|aw|fwd?|wg|rv|tr)\s?:\s*)*(.*\w.*)",
    re.I,
)


def _title(sheet: Sheet, columns: ColumnMap, path: Path) -> ListChoice:
    """Return the first line above the list that is neither a remark nor a sentence, or the file's name."""
    header = columns.first or columns.header
    letter = (row.cells[0].shown for row in sheet.rows if row_told(sheet, row).part)
    if subject := next((found for line in letter if (found := _SUBJECT.match(line))), None):
        return ListChoice(value=clean_text(subject[1]), why="the subject of the message", sure=False)
    if header:
        banner = [row for row in sheet.rows if row.number < header]
    else:
        top = at_the_top(sheet, columns.at["name"])
        banner = [row for row in sheet.rows[:LOOKED_AT] if top.get(row.number) == "a title"]
    above = [
        " ".join(cell.shown.split())
        for row in banner
        if not row_told(sheet, row).part
        for cell in row.cells
        if cell.kind == "text" and 3 < len(cell.shown.strip()) <= 80 and not _NO_TITLE.search(cell.shown)
    ]
    if above:
        return ListChoice(value=clean_text(above[0]), why="the text above the list", sure=False)
    stem = clean_text(re.sub(r"[_\-.]+", " ", path.stem).strip())
    return ListChoice(value=stem or "New order", why="the list's file name", sure=False)


def _faces(rows: Sequence[Row], used: set[int]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return typefaces for the scripts of the columns that are lettered, the most used first."""
    seen: Counter[str] = Counter()
    for row in rows:
        for cell in row.cells:
            if cell.column in used and cell.kind == "text":
                if cell.shown.isascii():
                    seen["Latn"] += len(cell.shown)
                else:
                    seen.update(script_of(c) for c in cell.shown if c.isalpha())
    seen["Latn"] += 1
    order = [script for script, _ in seen.most_common() if script not in ("Zyyy", "Zinh", "Zzzz")]
    faces = tuple(dict.fromkeys(FACES[script] for script in order if script in FACES))
    return faces, tuple(script_name(script) for script in order if script not in FACES)


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


def _plain_file_name(path: Path) -> str:
    """Return the list's own file name if every system can store it, else `list` with its suffix."""
    name = path.name
    odd = re.search(r'[<>:"/\\|?*\x00-\x1f]', name) or name != clean_text(name) or name[0] in " .~-" or len(name) > 100
    if odd or name.rstrip(". ") != name or _DEVICES.fullmatch(name):
        return f"list{path.suffix.lower()}"
    return name


def folder_name(path: Path) -> str:
    """Return a name for the order folder of a list: letters, digits and hyphens."""
    text = unicodedata.normalize("NFKD", path.stem).casefold()
    slug = re.sub(r"[^a-z0-9]+", "-", "".join(c for c in text if not unicodedata.combining(c))).strip("-")[:60]
    return "order" if not slug else f"order-{slug}" if _DEVICES.fullmatch(slug) else slug


# --- the order file ----------------------------------------------------------------------------------------------


def format_toml(value: str | Sequence[str]) -> str:
    """Return a text, or a list of texts, in TOML; a list of one is written as its text."""
    if not isinstance(value, str):
        return format_toml(value[0]) if len(value) == 1 else "[" + ", ".join(map(format_toml, value)) + "]"
    out = ""
    for c in value:
        if c in '"\\':
            out += "\\" + c
        elif c < " " or c == "\x7f":
            out += f"\\u{ord(c):04X}"
        elif "\ud800" <= c <= "\udfff":
            out += "\\uFFFD"
        else:
            out += c
    return f'"{out}"'


def order_text(plan: NewOrderPlan, units: UnitName = "mm", shop_file: str = "") -> str:
    """Return the text of the order file, each choice with its reason. It is ready to run.

    units: those of its lengths. shop_file: where the shop file lies, seen from the order folder; empty: there is none.
    """
    sizes = STARTING[units]
    columns = ", ".join(f"{key} = {choice.value}" for key, choice in plan.columns)
    rows: list[tuple[str, str]] = [
        ("# A first order, made from the list. It runs as it is:", ""),
        ("#   plaques check .   checks it and asks what an engraver would ask", ""),
        ("#   plaques run .     also writes the cut files, the proof and the shop sheet", ""),
        (f"# Lines marked “{CHECK}” are guesses or starting points.", ""),
        *(
            [(f"# What is missing here is looked up in {clean_text(shop_file)}; what stands here wins.", "")]
            if shop_file
            else []
        ),
        ("", ""),
        (f"title  = {format_toml(plan.title.value)}", _said(plan.title)),
        ('client = ""', f"{CHECK}: who the job is for"),
        (
            f'units  = "{units}"',
            "every length in this file; " + ('"in" for inches' if units == "mm" else '"mm" for mm'),
        ),
        ("", ""),
        ("[list]", ""),
        (f"file    = {format_toml(plan.list_name)}", ""),
    ]
    if plan.sheet is not None:
        rows.append((f"sheet   = {format_toml(plan.sheet.value)}", _said(plan.sheet)))
    if plan.area is not None:
        rows.append((f"area    = {format_toml(plan.area.value)}", _said(plan.area)))
    none = "" if plan.header.value != "0" else "; 0 means no headings, so columns are named by their letters"
    rows.append((f"header  = {plan.header.value}", _said(plan.header) + none))
    rows.append((f"columns = {{ {columns} }}", ""))
    if plan.guessed:
        rows.append(("guessed = true", f"{CHECK}: delete this line once header and columns are right"))
    rows += [(f"#   {key}: {_said(choice)}", "") for key, choice in plan.columns]
    if plan.unused:
        shown = ", ".join(f"“{clean_text(word)}”" for word in plan.unused[:12])
        rows.append((f"#   not used: {shown}", ""))
    rows += [(f"#   not used, because it has no heading: {words}", "") for words in plan.nameless]
    rows += [
        ("", ""),
        ("[blank]", ""),
        ('shape     = "rectangle"', f'{CHECK}: or drawing = "plaque.dxf", or shape = "disc" with a diameter'),
        (f"width     = {sizes.width}", CHECK),
        (f"height    = {sizes.height}", CHECK),
        (f"thickness = {sizes.thickness}", CHECK),
        (f"margin    = {sizes.margin}", "lettering stays this far inside the edge"),
        ("", ""),
        ("[cutter]", ""),
        ('use = "vbit-60"', f"{CHECK}: `plaques cutters` lists them"),
    ]
    rows += _artwork(plan, sizes)
    rows += _lines(plan, sizes)
    return "\n".join(f"{text:30}  # {said}" if said else text for text, said in rows) + "\n"


def _said(choice: ListChoice) -> str:
    return ("" if choice.sure else f"{CHECK}: ") + clean_text(choice.why, 300)


def _artwork(plan: NewOrderPlan, sizes: StartingSizes) -> list[tuple[str, str]]:
    """The badges, at the right of the plate."""
    if plan.badge is None:
        return []
    size = round(sizes.height / 3, 2)
    x, y = round(sizes.width - sizes.margin - size / 2, 2), round(sizes.height / 2, 2)
    return [
        ("", ""),
        ("[[artwork]]", ""),
        (f'file  = "{{{BADGE}}}{plan.badge.suffix}"', f"{CHECK}: {plan.badge.choice.why}; an empty cell leaves it out"),
        (f"at    = [{x}, {y}]", f"{CHECK}: its middle, from the lower left"),
        (f"width = {size}", CHECK),
    ]


def _lines(plan: NewOrderPlan, sizes: StartingSizes) -> list[tuple[str, str]]:
    keys = [key for key, _ in plan.columns if key not in (COPIES, LANGUAGE, "name", BADGE)]
    shown = ["name", *[key for key in LINE_ORDER if key in keys], *[key for key in keys if key not in LINE_ORDER]]
    out = []
    for number, key in enumerate(shown[:MOST_LINES]):
        first = number == 0
        cap, smallest = sizes.line_cap_height, sizes.line_smallest
        if first:
            cap, smallest = sizes.cap_height, sizes.smallest
        out += [
            ("", ""),
            ("[[line]]", ""),
            (f'text       = "{{{key}}}"', ""),
            (f"face       = {format_toml(plan.faces[0])}", f"{CHECK}: `plaques faces` lists them" if first else ""),
        ]
        if len(plan.faces) > 1:
            out.append((f"also       = {_several(plan.faces[1:])}", "for letters missing from the first typeface"))
        out += [
            (f"cap_height = {cap}", CHECK),
            (f"smallest   = {smallest}", "a text that is too long may be set this small" if first else ""),
            (f"tracking   = {TRACKING}", "a little open, in thousandths of an em" if first else ""),
            ("tightest   = 0", "but tightened to this before it is set smaller" if first else ""),
            (f"breaks     = {2 if first else 1}", "lines a long name may be broken into" if first else ""),
        ]
    if plan.unset:
        missing = ", ".join(plan.unset)
        out += [("", ""), (f"# {CHECK}: no typeface on the shelf has {missing}: put a font file into this folder", "")]
    return out


def _several(words: Sequence[str]) -> str:
    return "[" + ", ".join(map(format_toml, words)) + "]"
