"""The form of a PDF: its fields with their values and the places where they are shown, and what else lies on the pages.

Everything is bounded: a file from outside may lead back into itself, or hold a field of any size.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from pipeline.outputs.pdf.identity import ATTACHMENT
from pipeline.signoff.returned.answers import PaperProblem

OWN_NOTES = ("/Widget", "/Link", "/Popup")
BY_HAND = "record it by hand: plaques sign ORDER --rows … --by … --paper …"
MOST_PAGES = 5_000
MOST_FIELDS = 200_000
MOST_TEXT = 4_000
"""Characters of one field: more than anybody writes about a plaque."""
MOST_IDENTITY = 64 * 2**20
DEEPEST = 16
UNSEEN = (1 << 1) | (1 << 5)
"""Flags of an annotation that is not shown (ISO 32000-1, table 165): hidden, no view."""
_END = re.compile(rb"startxref\s+\d+\s+%%EOF[\s\0]*\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class WidgetPlace:
    """One widget of a field. rect in points; looks: names of the states it has a picture for."""

    page: int  # from 1; 0: on no page
    rect: tuple[int, int, int, int]
    seen: bool
    looks: tuple[str, ...] = ()


@dataclass(slots=True)
class FormField:
    """One field as found in the file."""

    value: str = ""  # text, or the state that is on
    kind: str = ""  # /Tx, /Btn, …
    torn: bool = False  # the stored value and the visible one differ, or can't be compared
    why: str = ""  # for a torn field: the reason, if it is another one
    places: tuple[WidgetPlace, ...] = ()

    @property
    def page(self) -> int:
        """0: on no page."""
        return self.places[0].page if self.places else 0


@dataclass(slots=True)
class ReadForm:
    boxes: dict[str, FormField] = field(default_factory=dict)
    doubled: list[str] = field(default_factory=list)
    notes: dict[int, list[str]] = field(default_factory=dict)  # page -> what was added to it


def open_proof(data: bytes, file: str) -> Any:
    """The open document, or the problem that keeps it shut."""
    import pikepdf

    cut = "part of it is missing, and what was filled in may be too"
    found, remedy = f"{file} is damaged: {cut}", f"ask for it again, or {BY_HAND}"
    try:
        pdf = pikepdf.open(BytesIO(data))
    except pikepdf.PasswordError:
        found, remedy = f"{file} is locked with a password", "ask for the file without one"
    except (pikepdf.PdfError, ValueError, RuntimeError) as error:
        found = f"{file} is not a PDF that can be read ({_shorten_error(error)})"
    else:
        repaired = [w for w in map(str, pdf.get_warnings()) if "reconstruct" in w or "damaged" in w or "loop" in w]
        # anything after the last %%EOF is an incomplete update: the file is read as it was before that
        if not repaired and _END.search(data[-2048:]) and len(pdf.pages) <= MOST_PAGES:
            return pdf
        pdf.close()
    return PaperProblem(code="unreadable", found=found, remedy=remedy, fatal=True)


def _shorten_error(error: Exception) -> str:
    """Shorten a library's message: an object's address in it is different each time."""
    return " ".join(re.sub(r"<[^<>]* object at 0x[0-9a-f]+>:?", "", str(error)).split())[:120]


def read_form(pdf: Any) -> ReadForm:
    """Read every field that has a name, with its value and places, and whatever else was put on the pages."""
    form = ReadForm()
    pages: dict[tuple[int, int], int] = {}
    for number, page in enumerate(pdf.pages, 1):
        for note in list_dictionaries(page.obj.get("/Annots")):
            kind = str(note.get("/Subtype", ""))
            pages[note.objgen] = number
            if kind not in OWN_NOTES:
                said = limit_text(str(note.get("/Contents", ""))).strip()
                form.notes.setdefault(number, []).append(said or f"a {kind.strip('/').lower()} without words")
    root = pdf.Root.get("/AcroForm")
    for node, name, kids in _walk_fields(root.get("/Fields") if _is_dictionary(root) else None):
        if name in form.boxes:
            form.doubled.append(name)
            continue
        widgets = kids or [node]
        places = tuple(_locate_widget(w, pages.get(w.objgen, 0)) for w in widgets)
        value, torn = _read_value(node, widgets)
        form.boxes[name] = FormField(value=value, kind=_read_kind(node), torn=torn, places=places)
    return form


def list_widgets(pdf: Any) -> dict[str, list[Any]]:
    """List the widgets of every field that has a name."""
    root = pdf.Root.get("/AcroForm")
    found = _walk_fields(root.get("/Fields") if _is_dictionary(root) else None)
    return {name: kids or [node] for node, name, kids in found}


def list_dictionaries(value: Any) -> list[Any]:
    """List the dictionaries of an array; none for anything else."""
    import pikepdf

    if not isinstance(value, pikepdf.Array):
        return []
    return [v for v in value if isinstance(v, pikepdf.Dictionary)]


def _is_dictionary(value: Any) -> bool:
    import pikepdf

    return isinstance(value, pikepdf.Dictionary)


def _walk_fields(top: Any) -> Iterator[tuple[Any, str, list[Any]]]:
    """Yield each leaf of the field tree with its full name and its own widgets. ValueError for a tree with a cycle."""
    met: set[tuple[int, int]] = set()
    waiting = [(node, "", 0) for node in reversed(list_dictionaries(top))]
    seen = 0
    while waiting:
        node, above, depth = waiting.pop()
        seen += 1
        if seen > MOST_FIELDS or depth > DEEPEST:
            raise ValueError("it has more fields than any proof")
        if node.objgen != (0, 0) and node.objgen in met:
            raise ValueError("its fields lead back to themselves")
        met.add(node.objgen)
        own = limit_text(str(node.get("/T", "")))
        name = f"{above}.{own}" if above and own else above or own
        kids = list_dictionaries(node.get("/Kids"))
        named = [k for k in kids if "/T" in k]
        waiting += [(kid, name, depth + 1) for kid in reversed(named)]
        if not named and name:
            yield node, name, kids


def _read_kind(node: Any) -> str:
    return str(node.get("/FT", ""))


def _locate_widget(widget: Any, page: int) -> WidgetPlace:
    flags = widget.get("/F", 0)
    seen = isinstance(flags, int) and not flags & UNSEEN and "/OC" not in widget
    look = widget.get("/AP")
    normal = look.get("/N") if _is_dictionary(look) else None
    states = tuple(sorted(str(k).strip("/") for k in dict(normal or {}))) if _is_states(normal) else ()
    return WidgetPlace(page=page, rect=round_rectangle(widget.get("/Rect")), seen=seen, looks=states)


def _is_states(value: Any) -> bool:
    import pikepdf

    return isinstance(value, pikepdf.Dictionary) and not isinstance(value, pikepdf.Stream)


def round_rectangle(value: Any) -> tuple[int, int, int, int]:
    """Round a rectangle to whole points, its lower left corner first; zeros when it isn't one."""
    try:
        x0, y0, x1, y1 = (float(v) for v in value)
    except (TypeError, ValueError, OverflowError):
        return (0, 0, 0, 0)
    found = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    return (0, 0, 0, 0) if any(abs(v) > 1e6 for v in found) else tuple(round(v) for v in found)  # type: ignore[return-value]


def _read_value(node: Any, widgets: list[Any]) -> tuple[str, bool]:
    """Text, or the name of the state that is on ("" for none); and whether the picture says otherwise."""
    import pikepdf

    stored = node.get("/V")
    if _read_kind(node) == "/Btn":
        plain = isinstance(stored, pikepdf.Name | pikepdf.String) or stored is None
        on = limit_text(str(stored)).strip("/") if stored is not None and plain else ""
        on = "" if on == "Off" else on
        shown = {limit_text(str(w.get("/AS", "/Off"))).strip("/") for w in widgets} - {"Off"}
        return on, not plain or shown != ({on} if on else set())
    if isinstance(stored, pikepdf.Stream):
        raw = stored.read_bytes()
        text = str(pikepdf.String(raw[: 4 * MOST_TEXT].decode("utf-8", "replace")))
        return tidy_value(limit_text(text)), len(raw) > 4 * MOST_TEXT
    if stored is not None and not isinstance(stored, pikepdf.String | pikepdf.Name):
        return "", True
    text = str(stored) if stored is not None else ""
    return tidy_value(limit_text(text)), len(text) > MOST_TEXT


def limit_text(text: str) -> str:
    """At most `MOST_TEXT` characters of it."""
    return text[:MOST_TEXT]


_EMPTY_LETTERS = frozenset("\u115f\u1160\u3164\uffa0\u2800\u17b4\u17b5\u034f")
"""Letters, marks and one symbol that show nothing (Unicode's Default_Ignorable_Code_Point beside the format characters,
and the Braille pattern without dots)."""


def has_visible_text(text: str) -> bool:
    """Return whether any character of it can be seen: none of blanks, controls, format characters, private or
    unassigned code points, and letters that are empty. A mark that combines with nothing does not count either."""
    return any(unicodedata.category(c)[0] not in "ZCM" and c not in _EMPTY_LETTERS for c in text)


def tidy_value(text: str) -> str:
    """Tidy what was typed: Unicode's composed form, line ends and outer spaces normalised; empty when nothing is
    visible."""
    lines = [" ".join(line.split()) for line in unicodedata.normalize("NFC", text).splitlines()]
    return "\n".join(lines).strip() if has_visible_text(text) else ""


def tidy_name(text: str) -> str:
    """Tidy the name of who signs; empty when it has no letter, as “?” or “-”, which name nobody."""
    tidied = tidy_value(text)
    return tidied if any(map(str.isalpha, tidied)) else ""


def read_attached(pdf: Any) -> bytes:
    """Read the attachment that describes the proof; empty when there is none, or it can't be read."""
    import pikepdf

    try:
        if ATTACHMENT not in pdf.attachments:
            return b""
        data = bytes(pdf.attachments[ATTACHMENT].get_file().read_bytes())
        return data if len(data) <= MOST_IDENTITY else b""
    except (pikepdf.PdfError, KeyError, ValueError, AttributeError, TypeError):
        return b""
