"""Pictures of pages as an answer: the pages of one proof put together, and what they say as a filled form would.

Handwriting isn't read: it is cut out for the maker, and its field counts as filled in. Whatever is unclear on a page is
unclear in the answer; a decision for all plaques on the last page counts only when every page was seen.
"""

from __future__ import annotations

import hashlib
import importlib.util
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.core.errors import CannotRun
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes
from pipeline.outputs.pdf.identity import ProofIdentity
from pipeline.signoff.pictures.page_records import ReadBox, ReadPage
from pipeline.signoff.pictures.picture_files import MOST_MB, WHAT
from pipeline.signoff.records.kept_lettering import read_identity
from pipeline.signoff.returned.answers import PaperProblem, ReturnedPaper
from pipeline.signoff.returned.pdf_form import BY_HAND, FormField, ReadForm, open_proof, read_form
from pipeline.signoff.returned.returned_proof import LAST_PAGE, PER_DESIGN, understand_proof
from pipeline.signoff.returned.sent_copy import Difference, Examined, SentCopy

KIND = "picture"
INSTALL = "in the folder of this tool, .venv/bin/pip install -e '.[pictures]'"
"""How to install the optional extra, as in the README."""
RECEIVED = "received"
WRITTEN = "as written by hand: "
"""Prefix of a change that only a person can read; the path of its picture follows."""
BY_HAND_ALONE = ("name", "date")
"""Fields of which nothing is known except that they were filled in by hand."""
PROVES = "A picture of a page proves no more than its file and hash."
_WRITTEN = re.compile(rf"{re.escape(WRITTEN)}({RECEIVED}/pictures-[0-9a-f]{{16}}/[\w-]+\.png)")


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedPages:
    """What pictures can be of: the proofs as they were made, by revision and volume, of one order."""

    copies: Mapping[tuple[str, int], SentCopy]
    order_id: str


def list_handwriting(text: str) -> tuple[str, ...]:
    """List the pictures with the handwriting of a recorded change, as paths from the order's folder."""
    return tuple(_WRITTEN.findall(text))


def is_printed_flat(path: Path) -> bool:
    """Return whether a PDF opens and has none of the fields of a proof: printed to a new file, flattened, or
    scanned."""
    try:
        data = read_foreign_bytes(path, WHAT, MOST_MB)
        return read_apart(_has_no_fields, data, path.name, where=path.name)
    except CannotRun:
        return False


def _has_no_fields(data: bytes, file: str) -> bool:
    opened = open_proof(data, file)
    if isinstance(opened, PaperProblem):
        return False
    with opened as pdf:
        names = read_form(pdf).boxes
    ours = {n for n in names if n in LAST_PAGE or n.partition("_")[0] in PER_DESIGN}
    return not ours


def read_picture_answers(paths: Sequence[Path], asked: AskedPages) -> tuple[ReturnedPaper, ...]:
    """The pictures as answers, one for each proof that they show pages of; one with a fatal problem where they show
    none. CannotRun when a file cannot be read at all."""
    data = {path: read_foreign_bytes(path, WHAT, MOST_MB) for path in paths}
    files = tuple((path.name, hashlib.sha256(d).hexdigest()) for path, d in data.items())
    if importlib.util.find_spec("cv2") is None:
        found = "to read pictures, a part is needed that is not installed (OpenCV)"
        remedy = f"install it: {INSTALL}; or {BY_HAND}"
        return (_refuse_pictures(files, (PaperProblem(code="unreadable", found=found, remedy=remedy, fatal=True),)),)
    read: list[tuple[Path, ReadPage]] = []
    problems: list[PaperProblem] = []
    blank: list[PaperProblem] = []
    for path, content in data.items():
        bounds = Bounds(seconds=min(60 + len(content) // 4_000, 3_600), memory_mb=1_600, answer_mb=512)
        try:
            pages = read_apart(
                _read_apart, content, path.name, dict(asked.copies), asked.order_id, where=path.name, bounds=bounds
            )
        except CannotRun as error:
            said = error.faults[0]
            problems.append(_report_unread(f"{path.name}: {said.found}", said.remedy))
            continue
        read += [(path, page) for page in pages]
        many = len(pages) > 1
        for page in pages:
            if not page.page:
                told = _report_unread(f"{_name_page(path, page, many)}: {page.why}")
                (blank if page.blank else problems).append(told)
    proofs: defaultdict[tuple[str, int], list[tuple[Path, ReadPage]]] = defaultdict(list)
    for path, page in read:
        if page.page:
            proofs[page.revision, page.volume].append((path, page))
    if not proofs:
        return (_refuse_pictures(files, tuple(replace(p, fatal=True) for p in (*problems, *blank))),)
    out = []
    for number, (key, pages_read) in enumerate(sorted(proofs.items())):
        known = read_identity(asked.copies[key].path.read_bytes())
        if known is not None:
            own = _ProofInPictures(known, asked.copies[key], pages_read, files)
            out.append(own.build_paper(problems, told=number == 0))
    return tuple(out)


def _read_apart(
    data: bytes, file: str, copies: Mapping[tuple[str, int], SentCopy], order_id: str
) -> tuple[ReadPage, ...]:
    # Imported here because it takes half a second and only this process needs it.
    from pipeline.signoff.pictures.page_reading import read_pictures

    return read_pictures(data, file, copies, order_id)


def _name_page(path: Path, page: ReadPage, many: bool) -> str:
    return f"{path.name}, picture {page.number}" if many else path.name


def _report_unread(found: str, remedy: str = "") -> PaperProblem:
    how = remedy or f"ask for that page again: flat, in good light, all of it in the picture; or {BY_HAND}"
    return PaperProblem(code="page-unread", found=found, remedy=how)


def _hash_files(files: Sequence[tuple[str, str]]) -> str:
    """sha256 of one file; of several, of all their sums in order."""
    sums = sorted({sha256 for _, sha256 in files})
    return sums[0] if len(sums) == 1 else hashlib.sha256("\n".join(sums).encode("ascii")).hexdigest()


def _format_title(files: Sequence[tuple[str, str]]) -> str:
    names = [name for name, _ in files]
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if names[3:] else "")


def _refuse_pictures(files: Sequence[tuple[str, str]], problems: tuple[PaperProblem, ...]) -> ReturnedPaper:
    return ReturnedPaper(
        kind=KIND, file=_format_title(files), sha256=_hash_files(files), files=tuple(files), problems=problems
    )


@dataclass(slots=True)
class _ProofInPictures:
    """The pages read of one proof."""

    told: ProofIdentity
    copy: SentCopy
    read: list[tuple[Path, ReadPage]]
    files: tuple[tuple[str, str], ...]
    pictures: dict[str, bytes] = field(default_factory=dict)

    def build_paper(self, problems: Sequence[PaperProblem], *, told: bool) -> ReturnedPaper:
        """Build the paper that the pictures show. problems: of pictures that show no page of any proof; told: whether
        it is this paper that tells them. What such a picture says nobody knows: nothing counts as agreed beside it, and
        nothing without the page that is signed."""
        sent = self.copy.path.read_bytes()
        where = _list_fields_by_page(sent)
        pages, own = self._merge_pages()
        wanted = {page for page, names in where.items() if names}
        missing = sorted(wanted - pages.keys())
        without = ""
        if missing:
            without = (
                f"{_format_pages(missing)} of the proof {'is' if len(missing) == 1 else 'are'} not in the pictures"
            )
            remedy = "“all correct” counts only when every page with boxes is there: ask for all of them together"
            own.append(PaperProblem(code="page-missing", found=without, remedy=remedy))
        for page in pages.values():
            if page.signed:
                self._keep_picture(page, "signature", page.signed)
        boxes = {name: box for page in pages.values() for name, box in self._read_boxes(page).items()}
        hands = {name: box.value for name, box in boxes.items() if name in BY_HAND_ALONE}
        boxes = {name: box for name, box in boxes.items() if name not in BY_HAND_ALONE}
        differences = tuple(d for page in pages.values() for d in self._list_differences(page))
        found = Examined(
            identities=(self.told.to_json(),),
            form=ReadForm(boxes=boxes),
            compared="compared",
            sent=self.told.to_json(),
            pages={name: page for page, names in where.items() for name in names},
            differences=differences,
        )
        signed = next((page for page, names in where.items() if "name" in names), 0)
        doubt = "the page that is signed is not in the pictures" if signed in missing else ""
        if problems:
            doubt = "what a picture beside it shows could not be read"
        paper = understand_proof(
            _format_title(self.files),
            _hash_files(self.files),
            self.told,
            found,
            kind=KIND,
            missing=without,
            doubt=doubt,
        )
        own += [self._rephrase_problem(p, hands) for p in paper.problems]
        return replace(
            paper,
            note=PROVES,
            files=self.files,
            pictures=tuple(self.pictures.items()),
            problems=(*(problems if told else ()), *own),
        )

    def _rephrase_problem(self, problem: PaperProblem, hands: Mapping[str, str]) -> PaperProblem:
        """Rephrase a form's problem for a picture."""
        if problem.code == "no-name":
            shown = hands.get("name", "")
            found = f"who signed is {shown}" if shown else "no name is filled in"
            return replace(problem, found=found, remedy="say who signed with --by", fatal=True)
        if problem.code == "empty":
            return replace(problem, remedy="look at the pictures: no tick and no writing was found in them")
        return problem

    def _merge_pages(self) -> tuple[dict[int, ReadPage], list[PaperProblem]]:
        """Return each page once. A page that came twice counts where both copies agree."""
        pages: dict[int, ReadPage] = {}
        told = []
        for _, page in sorted(self.read, key=lambda r: r[1].page):
            before = pages.get(page.page)
            if before is None:
                pages[page.page] = page
                continue
            told.append(PaperProblem(code="page-twice", found=f"page {page.page} is there twice"))
            pages[page.page] = _merge_copies(before, page)
        pens = {page.pen for page in pages.values()}
        if "shown" in pens and "broken" not in pens:  # somebody fills in a proof with one pen, and faxes it in one go
            pages = {n: replace(page, hidden="") if page.pen == "unseen" else page for n, page in pages.items()}
        return dict(sorted(pages.items())), told

    def _read_boxes(self, page: ReadPage) -> dict[str, FormField]:
        """Read the fields of a page as a form would have them."""
        fields: defaultdict[str, list[ReadBox]] = defaultdict(list)
        for box in page.boxes:
            fields[box.field].append(box)
        return {name: self._read_field(page, name, boxes) for name, boxes in fields.items()}

    def _read_field(self, page: ReadPage, name: str, boxes: Sequence[ReadBox]) -> FormField:
        kind = "/Btn" if boxes[0].kind == "tick" else "/Tx"
        unclear = next((b for b in boxes if b.state == "unclear"), None)
        if unclear is not None:
            return FormField(
                kind=kind, torn=True, why=f"{unclear.why}: {self._keep_picture(page, name, unclear.picture)}"
            )
        on = [b for b in boxes if b.state == "on"]
        if len(on) > 1:
            return FormField(kind=kind, torn=True, why="two choices are ticked")
        if on:
            return FormField(kind=kind, value=on[0].option)
        written = next((b for b in boxes if b.state == "written"), None)
        if written is None:
            return FormField(kind=kind)
        paths = [self._keep_picture(page, name, written.picture)]
        paths += [self._keep_picture(page, f"{name}_{n}", other) for n, other in enumerate(written.others, 2)]
        return FormField(kind=kind, value=", ".join(f"{WRITTEN}{path}" for path in paths))

    def _list_differences(self, page: ReadPage) -> list[Difference]:
        """List marks on a page that nobody asked for."""
        out = []
        for n, picture in enumerate(page.remarks, 1):
            path = self._keep_picture(page, f"beside-{n}", picture)
            out.append(Difference(found=f"something is written beside the boxes: {path}", page=page.page))
        if page.hidden:
            path = self._keep_picture(page, "whole", page.whole)
            out.append(Difference(found=f"{page.hidden}: {path}", page=page.page))
        return out

    def _keep_picture(self, page: ReadPage, name: str, picture: bytes) -> str:
        """The path from the order's folder under which a picture is kept for the maker."""
        plain = re.sub(r"[^\w-]+", "-", name)
        number = next((d.no for d in self.told.designs if d.fingerprint == name.partition("_")[2]), 0)
        plain = f"no-{number}-{name.partition('_')[0]}" if number else plain
        volume = f"-{self.told.volume}" if self.told.volume else ""
        folder = name_picture_folder(_hash_files(self.files))
        revision = _simplify_revision(self.told.revision)
        path = f"{folder}/proof-{revision}{volume}-page-{page.page}-{plain}.png"
        self.pictures[path] = picture
        return path


def name_picture_folder(sha256: str) -> str:
    """Name the folder in which returned pictures are kept, from the order's folder."""
    return f"{RECEIVED}/pictures-{sha256[:16]}"


def _simplify_revision(revision: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", revision) or "x"


def _merge_copies(one: ReadPage, other: ReadPage) -> ReadPage:
    """Merge two pictures of a page: whatever differs is unclear."""
    said = {(b.field, b.option): b for b in other.boxes}
    boxes = []
    for box in one.boxes:
        there = said.get((box.field, box.option))
        if there is not None and there.state == box.state:
            more = (*box.others, there.picture) if box.state == "written" else ()
            boxes.append(replace(box, others=more))
        else:
            why = "the page is there twice, and this box is not the same"
            shown = box.picture or (there.picture if there else b"")
            boxes.append(replace(box, state="unclear", why=why, picture=shown))
    return replace(
        one,
        boxes=tuple(boxes),
        remarks=(*one.remarks, *other.remarks),
        hidden=one.hidden or other.hidden,
        pen=one.pen if one.pen == other.pen else "broken" if "broken" in (one.pen, other.pen) else "",
        whole=one.whole or other.whole,
    )


def _list_fields_by_page(sent: bytes) -> dict[int, set[str]]:
    """List the names of the fields on each page of one of our proofs."""
    opened = open_proof(sent, "")
    if isinstance(opened, PaperProblem):
        return {}
    out: defaultdict[int, set[str]] = defaultdict(set)
    with opened as pdf:
        for name, box in read_form(pdf).boxes.items():
            for place in box.places:
                if place.page and place.rect[2] - place.rect[0] > 1:
                    out[place.page].add(name)
    return dict(out)


def _format_pages(pages: Sequence[int]) -> str:
    shown = ", ".join(map(str, pages[:12])) + (f" and {len(pages) - 12} more" if pages[12:] else "")
    return f"page {shown}" if len(pages) == 1 else f"pages {shown}"
