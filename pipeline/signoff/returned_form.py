"""The form of a returned PDF: its fields with their values and pages, and what else was put on the pages."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from pipeline.outputs.paper.identity import ATTACHMENT
from pipeline.signoff.answers import Problem

BY_HAND = "record it by hand: plaques sign ORDER --rows … --by … --paper …"
OWN_NOTES = ("/Widget", "/Link", "/Popup")


@dataclass(slots=True)
class Box:
    """One field as found in the file."""

    value: Any = None  # text, True/False of a tick, or the option of a choice
    page: int = 0  # 0: on no page
    torn: bool = False  # what is stored and what is shown differ


@dataclass(slots=True)
class FormRead:
    boxes: dict[str, Box] = field(default_factory=dict)
    doubled: list[str] = field(default_factory=list)
    notes: dict[int, list[str]] = field(default_factory=dict)  # page -> what was added there


def open_proof(data: bytes, file: str) -> Any:
    """The open document, or the problem that keeps it shut."""
    import pikepdf

    try:
        pdf = pikepdf.open(BytesIO(data))
    except pikepdf.PasswordError:
        found, remedy = f"{file} is locked with a password", "ask for the file without one"
    except pikepdf.PdfError as error:
        found, remedy = f"{file} is not a PDF that can be read ({error})", f"ask for it again, or {BY_HAND}"
    else:
        repaired = [str(w) for w in pdf.get_warnings() if "reconstruct" in str(w) or "damaged" in str(w)]
        if not repaired:
            return pdf
        pdf.close()
        found = f"{file} is damaged: part of it is missing, and what was filled in may be too"
        remedy = f"ask for it again, or {BY_HAND}"
    return Problem(code="unreadable", found=found, remedy=remedy, fatal=True)


def form_of(pdf: Any) -> FormRead:
    """Every field that has a name, with its value and page; and what else was put on the pages."""
    form = FormRead()
    pages: dict[tuple[int, int], int] = {}
    for number, page in enumerate(pdf.pages, 1):
        for note in _list(page.obj.get("/Annots")):
            kind = str(note.get("/Subtype", ""))
            pages[note.objgen] = number
            if kind not in OWN_NOTES:
                said = str(note.get("/Contents", "")).strip()
                form.notes.setdefault(number, []).append(said or f"a {kind.strip('/').lower()} without words")
    root = pdf.Root.get("/AcroForm")
    for top in _list(root.get("/Fields")) if root is not None else []:
        _collect(top, "", form, pages, 0)
    return form


def _list(value: Any) -> list[Any]:
    import pikepdf

    if not isinstance(value, pikepdf.Array):
        return []
    return [v for v in value if isinstance(v, pikepdf.Dictionary)]


def _collect(node: Any, above: str, form: FormRead, pages: dict[tuple[int, int], int], depth: int) -> None:
    if depth > 8:
        return
    own = str(node.get("/T", ""))
    name = f"{above}.{own}" if above and own else above or own
    kids = _list(node.get("/Kids"))
    named = [k for k in kids if "/T" in k]
    for kid in named:
        _collect(kid, name, form, pages, depth + 1)
    if named or not name:
        return
    if name in form.boxes:
        form.doubled.append(name)
        return
    widgets = kids or [node]
    page = next((pages[w.objgen] for w in widgets if w.objgen in pages), 0)
    value, torn = _value(node, widgets)
    form.boxes[name] = Box(value=value, page=page, torn=torn)


def _value(node: Any, widgets: list[Any]) -> tuple[Any, bool]:
    """Text, or the name of the state that is on ("" for none); and whether the picture says otherwise."""
    import pikepdf

    stored = node.get("/V")
    if str(node.get("/FT", "")) == "/Btn":
        on = str(stored).strip("/") if stored is not None else ""
        on = "" if on == "Off" else on
        shown = {str(w.get("/AS", "/Off")).strip("/") for w in widgets} - {"Off"}
        return on, shown != ({on} if on else set())
    if isinstance(stored, pikepdf.Stream):
        raw = stored.read_bytes()
        text = str(pikepdf.String(raw.decode("utf-8", "replace")))
    else:
        text = str(stored) if stored is not None else ""
    return tidy(text), False


def tidy(text: str) -> str:
    """What was typed, in Unicode's composed form, its lines and outer spaces evened out."""
    lines = [" ".join(line.split()) for line in unicodedata.normalize("NFC", text).splitlines()]
    return "\n".join(lines).strip()


def attached(pdf: Any) -> bytes:
    """The attachment that describes the proof; empty when there is none that can be read."""
    import pikepdf

    try:
        return bytes(pdf.attachments[ATTACHMENT].get_file().read_bytes()) if ATTACHMENT in pdf.attachments else b""
    except (pikepdf.PdfError, KeyError, ValueError, AttributeError):
        return b""
