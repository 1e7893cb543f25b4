"""A proof that came back, held against the copy that was kept of it when it was made: by what it means, since programs
write a file anew in their own way when they save it.

Compared are what the pages show (content and all that it draws with; where that differs, the pages as pictures), what
lies on them (fields and annotations, by kind, place and value) and what goes along with the file. What the client was
asked to fill in is no difference; everything else is one.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pipeline.outputs.pdf.identity import ATTACHMENT, FIELD, ProofIdentity
from pipeline.signoff.returned.answers import PaperProblem
from pipeline.signoff.returned.page_content import PageContent, describe_shape
from pipeline.signoff.returned.page_pictures import (
    PagePictures,
    are_pictures_alike,
    is_adding,
    is_painting,
    is_text_only,
    list_shown_texts,
)
from pipeline.signoff.returned.pdf_form import (
    FormField,
    ReadForm,
    WidgetPlace,
    limit_text,
    list_dictionaries,
    list_widgets,
    open_proof,
    read_attached,
    read_form,
    round_rectangle,
)

NEAR = 2
"""Points by which a place may differ: programs round it."""
MOST_TOLD = 500

Compared = Literal["compared", "none", "missing", "altered"]
"""compared: with the copy kept · none: no copy was ever kept (an earlier version sent it) · missing: the copy is gone ·
altered: the copy is not the file that was kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SentCopy:
    """A proof as it was made: its file and what the ledger says is its sha256."""

    path: Path
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A difference from what was sent. page: of the proof as sent, 0 for the whole; field: its name, if it concerns
    one."""

    found: str
    page: int = 0
    field: str = ""


@dataclass(slots=True, kw_only=True)
class Examined:
    """A returned PDF as plain data. identities: what it says of itself in each place where it does, as
    `ProofIdentity.to_json` writes it; empty for one that is not sound."""

    identities: tuple[bytes, ...] = ()
    subject: str = ""
    form: ReadForm = field(default_factory=ReadForm)
    compared: Compared = "none"
    sent: bytes = b""  # what the copy says of itself
    pages: dict[str, int] = field(default_factory=dict)  # field -> its page in the copy
    differences: tuple[Difference, ...] = ()


def examine(data: bytes, file: str, copies: Mapping[tuple[str, int], SentCopy]) -> Examined | PaperProblem:
    """Examine the content of a PDF, and its differences from the stored copy of the proof that it claims to be. copies:
    by revision and volume."""
    opened = open_proof(data, file)
    if isinstance(opened, PaperProblem):
        return opened
    with opened as pdf:
        form = read_form(pdf)
        subject = str(pdf.docinfo.get("/Subject", "")) if "/Info" in pdf.trailer else ""
        found = Examined(identities=_read_identities(pdf, form), subject=limit_text(subject), form=form)
        identities = [ProofIdentity.from_json(told) for told in found.identities if told]
        copy = next((copies[key] for t in identities if (key := (t.revision, t.volume)) in copies), None)
        if copy is None:
            return found
        try:
            sent = copy.path.read_bytes()
        except OSError:
            found.compared = "missing"
            return found
        kept = open_proof(sent, copy.path.name) if hashlib.sha256(sent).hexdigest() == copy.sha256 else None
        if kept is None or isinstance(kept, PaperProblem):
            found.compared = "altered"
            return found
        with kept as before:
            own = read_form(before)
            found.compared, found.sent = "compared", _require_sound(read_attached(before))
            found.pages = {name: box.page for name, box in own.boxes.items()}
            held = _CopyComparison(before, sent, own, pdf, data, form)
            found.differences = tuple(held.list_differences())[:MOST_TOLD]
    return found


def reads_the_same(one: bytes, other: bytes) -> bool:
    """Return whether two proofs of ours show the same and ask for the same, whatever else they say about themselves."""
    first, second = open_proof(one, ""), open_proof(other, "")
    if isinstance(first, PaperProblem) or isinstance(second, PaperProblem):
        return False
    with first as a, second as b:
        held = _CopyComparison(a, one, read_form(a), b, other, read_form(b))
        return not any(True for _ in held.list_differences())


def _read_identities(pdf: Any, form: ReadForm) -> tuple[bytes, ...]:
    found = [_require_sound(carried)] if (carried := read_attached(pdf)) else []
    if FIELD in form.boxes:
        stored = [w.get("/V") for w in list_widgets(pdf).get(FIELD, ()) if "/V" in w]
        found += [_require_sound(str(value).encode("utf-8", "replace")) for value in stored]
    return tuple(found)


def _require_sound(told: bytes) -> bytes:
    """An identity as we write it, without lettering; empty when it is none."""
    try:
        return ProofIdentity.from_json(told).to_json()
    except ValueError:
        return b""


class _CopyComparison:
    """A kept copy (`before`) and a returned file, side by side."""

    def __init__(self, before: Any, sent: bytes, own: ReadForm, pdf: Any, data: bytes, form: ReadForm) -> None:
        self._before, self._sent, self._own = before, sent, own
        self._pdf, self._data, self._form = pdf, data, form
        self._ours, self._theirs = PageContent(), PageContent()

    def list_differences(self) -> Iterator[Difference]:
        """List all differences, the pages first."""
        count = len(self._before.pages)
        paired, same, foreign = self._pair_pages()
        if foreign:
            yield Difference(found="a page was added that was not in the proof")
        for number in range(1, count + 1):
            if number not in paired:
                yield Difference(found=f"page {number} is missing", page=number)
        yield from self._compare_redrawn({n: r for n, r in paired.items() if n not in same})
        where = {returned: sent for sent, returned in paired.items()}
        yield from self._compare_fields(where)
        yield from self._compare_pictures()
        yield from self._find_annotations(where)
        yield from self._find_additions()

    # --- pages ---

    def _pair_pages(self) -> tuple[dict[int, int], set[int], int]:
        """Pair pages of the copy with pages of the file, by what they show, else by their order; those that show the
        same without a second look; how many of the file's belong to none."""
        sent = [self._ours.hash_page(p) for p in self._before.pages]
        back = [self._theirs.hash_page(p) for p in self._pdf.pages]
        places: defaultdict[bytes, list[int]] = defaultdict(list)
        for number, page in enumerate(back, 1):
            places[page].append(number)
        paired: dict[int, int] = {}
        for number, page in enumerate(sent, 1):
            if places[page]:
                at = number if number in places[page] else places[page][0]
                places[page].remove(at)
                paired[number] = at
        same = set(paired)
        missing = [n for n in range(1, len(sent) + 1) if n not in paired]
        over = sorted(n for left in places.values() for n in left)
        if len(missing) == len(over):
            return {**paired, **dict(zip(missing, over, strict=True))}, same, 0
        return paired, same, len(over)

    def _compare_redrawn(self, paired: Mapping[int, int]) -> Iterator[Difference]:
        """Compare pages that were rewritten, by their pictures."""
        pictures: tuple[PagePictures, PagePictures] | None = None
        for number, at in paired.items():
            told = Difference(found=f"page {number} does not show what it showed when it was sent", page=number)
            if describe_shape(self._before.pages[number - 1]) != describe_shape(self._pdf.pages[at - 1]):
                yield told
                continue
            pictures = pictures or (PagePictures(self._sent), PagePictures(self._data))
            if not are_pictures_alike(pictures[0].draw_page(number - 1), pictures[1].draw_page(at - 1)):
                yield told

    # --- fields ---

    def _compare_fields(self, where: Mapping[int, int]) -> Iterator[Difference]:
        """Find fields that are gone, moved, hidden or new. where: page of the file -> page of the copy."""
        for name, box in self._own.boxes.items():
            other = self._form.boxes.get(name)
            if other is None:
                yield Difference(found="its field is missing", page=box.page, field=name)
            elif other.kind != box.kind or not _are_placed_alike(box, other, where):
                yield Difference(found="its field is not where it was, or not as it was", page=box.page, field=name)
        for name, box in self._form.boxes.items():
            if name not in self._own.boxes:
                said = f": “{limit_text(box.value)[:80]}”" if box.value else ""
                yield Difference(found=f"a field was added{said}", page=where.get(box.page, 0))

    def _compare_pictures(self) -> Iterator[Difference]:
        """Find fields whose picture was redrawn and shows something that is not in their value."""
        ours, theirs = list_widgets(self._before), list_widgets(self._pdf)
        read: list[tuple[str, Any]] = []
        for name, box in self._own.boxes.items():
            other = self._form.boxes.get(name)
            if other is None or name == FIELD:
                continue
            page = box.page
            if box.kind == "/Btn":
                states = {
                    (state, self._ours.hash_value(look)) for w in ours[name] for state, look in _list_looks(w).items()
                }
                for widget in theirs[name]:
                    for state, look in _list_looks(widget).items():
                        if (state, self._theirs.hash_value(look)) not in states and is_painting(look) != (
                            state != "/Off"
                        ):
                            told = "the picture of its box shows another state than it has"
                            yield Difference(found=told, page=page, field=name)
                continue
            known = {self._ours.hash_value(look) for w in ours[name] for look in _list_looks(w).values()}
            for look in (look for w in theirs[name] for look in _list_looks(w).values()):
                if self._theirs.hash_value(look) in known or not is_painting(look):
                    continue
                if is_text_only(look):
                    read.append((name, look))
                else:
                    yield Difference(found="something is drawn into its field", page=page, field=name)
        root = self._pdf.Root.get("/AcroForm")
        fonts = root.get("/DR", {}).get("/Font") if root is not None else None
        for (name, _), shown in zip(read, list_shown_texts([look for _, look in read], fonts), strict=True):
            if is_adding(shown, self._form.boxes[name].value):
                said = " ".join(shown.split())[:80]
                found = f"its field shows “{said}”, which is not what is stored in it"
                yield Difference(found=found, page=self._own.boxes[name].page, field=name)

    # --- what else there is ---

    def _find_annotations(self, where: Mapping[int, int]) -> Iterator[Difference]:
        """Find added notes, drawings, stamps and links on the pages."""
        known: defaultdict[int, list[tuple[str, tuple[int, ...]]]] = defaultdict(list)
        for number, page in enumerate(self._before.pages, 1):
            for each in list_dictionaries(page.obj.get("/Annots")):
                known[number].append((str(each.get("/Subtype", "")), round_rectangle(each.get("/Rect"))))
        held = {w.objgen for widgets in list_widgets(self._pdf).values() for w in widgets}
        for at, page in enumerate(self._pdf.pages, 1):
            number = where.get(at, 0)
            for each in list_dictionaries(page.obj.get("/Annots")):
                kind, box = str(each.get("/Subtype", "")), round_rectangle(each.get("/Rect"))
                said = " ".join(limit_text(str(each.get("/Contents", ""))).split())[:80]
                if kind == "/Widget":
                    if each.objgen not in held:
                        yield Difference(found="a field was added that belongs to no form", page=number)
                    continue
                if kind == "/Link" and any(k == kind and _are_near(b, box) for k, b in known[number]):
                    continue
                if kind == "/Popup" and not said:
                    continue
                told = f": “{said}”" if said else " without words"
                yield Difference(found=f"a {kind.strip('/').lower() or 'note'} was added{told}", page=number)

    def _find_additions(self) -> Iterator[Difference]:
        """Find attachments and scripts that were not in the file as sent."""
        root = self._pdf.Root
        for name in sorted(set(self._pdf.attachments.keys()) - {ATTACHMENT}):
            yield Difference(found=f"a file was attached: “{limit_text(name)[:80]}”")
        if "/XFA" in root.get("/AcroForm", {}):
            yield Difference(found="it carries a second form of another kind")
        if "/OCProperties" in root and "/OCProperties" not in self._before.Root:
            yield Difference(found="it has layers that can be switched off")
        if "/JavaScript" in root.get("/Names", {}):
            yield Difference(found="it carries a script")


def _list_looks(widget: Any) -> dict[str, Any]:
    """The pictures of a widget: by state, or one."""
    import pikepdf

    look = widget.get("/AP")
    normal = look.get("/N") if isinstance(look, pikepdf.Dictionary) else None
    if isinstance(normal, pikepdf.Stream):
        return {"": normal}
    return dict(normal.items()) if isinstance(normal, pikepdf.Dictionary) else {}


def _are_placed_alike(box: FormField, other: FormField, where: Mapping[int, int]) -> bool:
    """Return whether a field is shown where it was, each of its places once and with the same states."""
    left = list(other.places)
    for place in box.places:
        match = next((p for p in left if _is_same_place(place, p, where)), None)
        if match is None:
            return False
        left.remove(match)
    return not left


def _is_same_place(place: WidgetPlace, other: WidgetPlace, where: Mapping[int, int]) -> bool:
    return (
        where.get(other.page, 0) == place.page
        and _are_near(place.rect, other.rect)
        and (other.seen or not place.seen)
        and set(place.looks) - {"Off"} == set(other.looks) - {"Off"}
    )


def _are_near(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return all(abs(a - b) <= NEAR for a, b in zip(one, other, strict=True))
