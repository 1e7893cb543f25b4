"""Where a check sheet that came back has what is read: its sheets, the columns of answers, the labels where one signs.

Each has a key, which the workbook holds as a defined name; sheets made before there were keys, and those whose names a
program has lost, are read by their headings and labels, in any language there is a catalogue of. Not every program lets
names go along when columns are moved: where a known heading stands elsewhere than its key says, the heading holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pipeline.core.language.texts import ENGLISH, Texts, list_languages, load_texts
from pipeline.outputs.workbooks import check_sheet as heads
from pipeline.signoff.returned.sheet_cells import Workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Sheets by their names; rows and columns counted from 1. columns: key, or heading of a column without one, ->
    column. labels: key -> row. answers: what may be typed, in small letters -> key of the answer."""

    sheet: str
    sign: str
    header: int
    columns: Mapping[str, int]
    labels: Mapping[str, int]
    answers: Mapping[str, str] = field(default_factory=dict)
    renamed: tuple[str, ...] = ()  # keys of columns whose heading was changed, where the original is known

    def find_heading(self, book: Workbook, key: str) -> str:
        """Find a column's heading; its key where it has none."""
        held = book.sheets[self.sheet][self.header].get(self.columns.get(key, 0))
        return held.text if held else key


def find_places(book: Workbook) -> Places | None:
    """Find what is read in the two sheets of a workbook; None when it is no check sheet."""
    keys = {key: at for key in (*heads.COLUMNS, *heads.LABELS) if (at := book.names.get(heads.build_defined_name(key)))}
    texts, sheet, header, columns = _find_columns(book, keys)
    sign, labels = _find_labels(book, keys, texts)
    if not header or not sign:
        return None
    known = set(columns.values())
    others = {held.text: n for n, held in sorted(book.sheets[sheet][header].items(), reverse=True) if n not in known}
    answers = {word: key for key in heads.ANSWERS for word in _list_headings(book, key, texts)}
    words = {key: held.text if (held := book.sheets[sheet][header].get(n)) else "" for key, n in columns.items()}
    other = tuple(key for key, word in words.items() if word != texts.render_text(key))
    return Places(
        sheet=sheet,
        sign=sign,
        header=header,
        columns={**others, **columns},
        labels=labels,
        answers=answers,
        renamed=other if len(other) < len(words) else (),
    )


def _list_headings(book: Workbook, key: str, texts: Texts) -> set[str]:
    return {
        " ".join(w.casefold().split())
        for w in (texts.render_text(key), book.words.get(heads.build_defined_name(key), ""))
        if w
    }


def _find_columns(book: Workbook, keys: Mapping[str, tuple[str, int, int]]) -> tuple[Texts, str, int, dict[str, int]]:
    """The language of the headings, the sheet they are on, their row, key -> column; row 0 when there is none."""
    keyed = {key: keys[key] for key in heads.COLUMNS if key in keys}
    named = [sheet for sheet in book.sheets if sheet in _list_translations(heads.SHEET)]
    sheets = named or sorted({sheet for sheet, _, _ in keyed.values()})
    for by_keys in (False, True):  # a header row may be moved without its names: first those with names
        for sheet in sheets:
            cells = book.sheets[sheet]
            for number in sorted(cells):
                places = sorted(cells[number])
                texts, at = heads.find_columns([cells[number][n].text for n in places])
                found = {key: places[n] for key, n in at.items()}
                here = {key: n for key, (of, row, n) in keyed.items() if (of, row) == (sheet, number)}
                if not (found.keys() >= heads.NEEDED or (by_keys and (found | here).keys() >= heads.NEEDED)):
                    continue
                taken = set(found.values())
                found |= {key: n for key, n in here.items() if key not in found and n not in taken}
                first = cells[number].get(found.get(heads.ROW, 0))
                if found.keys() >= heads.NEEDED and not (first and first.text.isdecimal()):
                    return texts, sheet, number, found
    return load_texts(ENGLISH), "", 0, {}


def _find_labels(book: Workbook, keys: Mapping[str, tuple[str, int, int]], texts: Texts) -> tuple[str, dict[str, int]]:
    """The sheet where one signs, and key -> row of the label."""
    by_key = {key: keys[key] for key in heads.LABELS if key in keys}
    named = [sheet for sheet in book.sheets if sheet in _list_translations(heads.SIGN_SHEET)]
    sheets = named or sorted({sheet for sheet, _, _ in by_key.values()})
    for sheet in sheets:
        said: dict[str, int] = {}
        for row, cells in book.sheets[sheet].items():
            if 1 in cells:
                said.setdefault(cells[1].text, row)
        found = {key: said[label] for key in heads.LABELS if (label := texts.render_text(key)) in said}
        taken = set(found.values())
        for key, (of, row, _) in by_key.items():
            if key not in found and of == sheet and row not in taken:
                found[key] = row
        return sheet, found
    return "", {}


def _list_translations(id: str) -> set[str]:
    """A message in every language."""
    return {load_texts(language).render_text(id) for language in list_languages()}
