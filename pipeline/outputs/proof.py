"""The proof: the paper the client checks, fills in or signs, and sends back.

Pages are planned first, so that every page can say "page x of y" and name the pages of others, and then drawn. The
lettering is the artwork's own curves: nothing is set again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.core.catalogue import for_client
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.findings import Severity
from pipeline.core.model import Outcome, ShapedRow
from pipeline.core.order import Order, OrderFolder, ProofPart
from pipeline.outputs.paper import look
from pipeline.outputs.paper.about import About, Attachment
from pipeline.outputs.paper.faces import SANS, covers
from pipeline.outputs.paper.fields import Form
from pipeline.outputs.paper.foreign import Repeat, runs
from pipeline.outputs.paper.identity import ATTACHMENT, FIELD, SUBJECT, Identity, with_drawings, xmp
from pipeline.outputs.paper.pen import PAPERS, Pen
from pipeline.outputs.proofing import cards, cover, front, words
from pipeline.outputs.proofing.entries import Entry, Held, entries, held
from pipeline.outputs.proofing.frame import Frame
from pipeline.outputs.proofing.signing import draw_signing
from pipeline.outputs.revision import FIRST, Revision, identity_of

LINE_WIDTH = 0.25
"""Of single-line lettering where the cutter does not say, mm."""


def write_proof(
    outcome: Outcome,
    folder: OrderFolder,
    path: Path,
    revision: Revision = FIRST,
    captions: Mapping[str, ShapedRow] | None = None,
) -> int:
    """Writes the proof of a run and gives its number of pages. Equal input gives equal bytes.

    revision: which proof it is and whom it asks. captions: rows shaped for texts of `foreign_texts`, to show names in
    running text in scripts the reading faces have not; without one the artwork is repeated where it says the text, and
    otherwise its code points are spelt out. CannotRun when the file cannot be written or the order asks for a language
    the proof has no words in.
    """
    parts, pages = _proof(outcome, folder, revision, captions)
    write_whole(path, parts)
    return pages


def foreign_texts(outcome: Outcome, order: Order) -> frozenset[str]:
    """The texts of this run's proof that its reading faces cannot show: words, or words with the blanks between."""
    texts = [outcome.title, outcome.client, *(getattr(order.proof, k) for k in ("shop", "contact", "message"))]
    for entry in entries(outcome, order.unit, FIRST):
        texts += [entry.title, *entry.design.text, *entry.questions, *entry.notes]
    for item in held(outcome, order.unit, ""):
        texts += [item.title, *item.reasons]
    return frozenset(run for text in texts if not covers(text, SANS) for run, is_own in runs(text, SANS) if not is_own)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Matter:
    """Everything the proof shows."""

    shown: tuple[Entry, ...]  # asked for in this revision
    agreed: tuple[Entry, ...]  # signed off earlier, not asked for again
    unset: tuple[Held, ...]
    whole: tuple[str, ...]  # questions about the whole order


def proof_bytes(
    outcome: Outcome,
    folder: OrderFolder,
    revision: Revision = FIRST,
    captions: Mapping[str, ShapedRow] | None = None,
) -> tuple[bytes, int]:
    """As `write_proof`, in memory."""
    parts, pages = _proof(outcome, folder, revision, captions)
    return b"".join(parts), pages


def _proof(
    outcome: Outcome, folder: OrderFolder, revision: Revision, captions: Mapping[str, ShapedRow] | None
) -> tuple[list[bytes], int]:
    part, units = folder.order.proof, folder.order.unit
    if part.language.split("-")[0].lower() != words.LANGUAGE:
        raise CannotRun(
            Fault(
                where=f"{folder.file}: [proof] language",
                found=f"“{part.language}”",
                expected=f"“{words.LANGUAGE}”, the only language the proof is written in",
            )
        )
    if revision == FIRST and part.revision:
        revision = replace(FIRST, letter=part.revision)
    everything = entries(outcome, units, revision)
    matter = _Matter(
        shown=tuple(e for e in everything if revision.asks_for(e.design.fingerprint)),
        agreed=tuple(e for e in everything if not revision.asks_for(e.design.fingerprint)),
        unset=held(outcome, units, words.STOPPED_OTHERWISE),
        whole=tuple(t for f in outcome.findings if f.severity is not Severity.NOTE and (t := for_client(f, units))),
    )
    who = identity_of(outcome, revision)
    told = Identity(
        order_id=who.order_id,
        order_sha256=who.order_sha256,
        title=who.title,
        client=who.client,
        revision=who.revision,
        head_rows=revision.head[0],
        head_hash=revision.head[1],
        designs=tuple(e.design for e in matter.shown),
        unset=tuple(h.unset for h in matter.unset),
    )
    short = told.to_json()
    pen = Pen(*PAPERS[part.paper], foreign=_foreign(outcome, captions or {}))
    mark = f"order {who.order_id} · proof {revision.letter}"
    frame = Frame(pen, outcome.title, part.shop, mark, revision.letter, 0, Form(pen))
    plan = cards.plan(frame, matter.shown, outcome.blank, _tool(outcome, folder.order), units)
    _draw(frame, matter, outcome, part, plan, short)
    return _finished(frame, matter, told, short, part, revision), frame.pages


def _tool(outcome: Outcome, order: Order) -> cards.Tool:
    cutter = dict(outcome.cutter)
    widths = (cutter.get(name) for name in ("line_width", "tip", "kerf"))
    point = next((float(w) for w in widths if w), LINE_WIDTH)
    return cards.Tool(kind=str(cutter.get("kind", "")), point=point, fixed=order.fixed_lines)


def _draw(frame: Frame, matter: _Matter, outcome: Outcome, part: ProofPart, plan: cards.Plan, identity: bytes) -> None:
    """Plans the pages before the plaques, then draws all of them."""
    pen, shown = frame.pen, matter.shown
    questions = [(i, q) for i, e in enumerate(shown) for q in e.questions]
    asked = tuple(front.Asked(title=words.WHOLE_ORDER, text=text) for text in matter.whole)
    asked += tuple(front.Asked(title=shown[i].title, text=q) for i, q in questions)
    note = pen.wrap(part.message, look.BODY, frame.room - 10) if part.message else []
    asked_pages = front.plan_questions(frame, asked)
    held_pages = front.plan_held(frame, matter.unset)

    at = 2
    starts: dict[str, int] = {}
    for name, count in (
        (words.NOTE_HEAD, 1 if len(note) > cover.MESSAGE_ROWS else 0),
        (words.QUESTIONS_HEAD, len(asked_pages)),
        (words.STOPPED_HEAD, len(held_pages)),
        (words.INDEX_HEAD, front.index_pages(frame, len(shown)) if len(plan.pages) > 1 else 0),
        (words.PLAQUES_HEAD, len(plan.pages)),
        (words.AGREED_HEAD, front.agreed_pages(frame, len(matter.agreed))),
        (words.SIGN_HEAD, 1),
    ):
        if count:
            starts[name] = at
        at += count
    frame.pages = starts[words.SIGN_HEAD]
    first = starts.get(words.PLAQUES_HEAD, 0)
    page_of = {i: first + n for n, page in enumerate(plan.pages) for i in page}
    places = [page_of[i] for i in range(len(shown))]
    asked = tuple(
        replace(a, page=places[i]) if i is not None else a
        for a, i in zip(asked, [None] * len(matter.whole) + [i for i, _ in questions], strict=True)
    )

    cover.draw_cover(
        frame,
        cover.Cover(
            title=outcome.title,
            client=outcome.client,
            proof=part,
            counts=_counts(matter, len(asked)),
            steps=cover.steps(frame, starts, len(shown), len(matter.agreed), part.return_to),
            contents=tuple(starts.items()),
        ),
        outcome.blank,
    )
    if words.NOTE_HEAD in starts:
        cover.draw_note(frame, note)
    front.draw_questions(frame, asked, asked_pages)
    front.draw_held(frame, matter.unset, held_pages, plan.blank, plan.tool.point)
    if words.INDEX_HEAD in starts:
        front.draw_index(frame, shown, places)
    cards.draw_all(frame, plan)
    front.draw_agreed(frame, matter.agreed)
    covers = words.SIGN_INTRO.format(
        pieces=words.count(sum(e.design.pieces for e in shown), ("piece", "pieces")),
        first=first,
        last=first + len(plan.pages) - 1,
        revision=frame.revision,
        title=outcome.title,
    )
    frame.form.hidden(FIELD, identity.decode("ascii"), words.IDENTITY_TIP)
    draw_signing(frame, intro=covers if shown else "", asked=bool(questions), return_to=part.return_to)


def _counts(matter: _Matter, questions: int) -> tuple[tuple[int, tuple[str, str]], ...]:
    counts = [
        (len(matter.shown), words.COUNT_DESIGNS),
        (sum(e.design.pieces for e in matter.shown), words.COUNT_PIECES),
        (questions, words.COUNT_QUESTIONS),
        (len(matter.unset), words.COUNT_STOPPED),
        (len(matter.agreed), words.COUNT_AGREED),
    ]
    return tuple(c for i, c in enumerate(counts) if c[0] or i < 2)


def _finished(
    frame: Frame, matter: _Matter, told: Identity, short: bytes, part: ProofPart, revision: Revision
) -> list[bytes]:
    """The drawn pages with all that lets the proof be recognised."""
    title = f"{told.title} · proof {revision.letter}"
    return frame.pen.close(
        About(
            title=title,
            author=part.shop,
            subject=f"{SUBJECT} {told.order_id} {revision.letter}",
            language=words.LANGUAGE,
            producer=told.tool,
            xmp=xmp(told, title, words.LANGUAGE),
            attachment=Attachment(
                name=ATTACHMENT,
                description=words.IDENTITY_TIP,
                kind="application/json",
                parts=with_drawings(short, ((e.design.fingerprint, e.artwork) for e in matter.shown)),
            ),
        ),
        frame.form.close(),
    )


def _foreign(outcome: Outcome, captions: Mapping[str, ShapedRow]) -> dict[str, Repeat]:
    """How text in scripts that the reading faces have not is shown: shaped for it, or the artwork that says it."""
    out = {text: Repeat.of_shaped(row) for text, row in captions.items()}
    for plaque in outcome.plaques:
        if plaque.artwork is None:
            continue
        for line in plaque.artwork.lines:
            for row in line.rows:
                if covers(row.text, SANS):
                    continue
                drawn = {c for p in row.pieces for use in p.shape.glyphs for c in use.text}
                if any(p.turn for p in row.pieces) or set("".join(row.text.split())) - drawn:
                    continue  # on an arc, or with characters no face of the line has
                for run, is_own in runs(row.text, SANS):
                    if not is_own and run == row.text.strip() and run not in out:
                        out[run] = Repeat.of_row(row, line.cap_height)
    return out
