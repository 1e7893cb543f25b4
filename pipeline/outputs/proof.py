"""The proof: the paper the client checks, fills in or signs, and sends back.

Pages are planned first, so that every page can say "page x of y" and name the pages of others, and then drawn. The
lettering is the artwork's own curves: nothing is set again.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.core.catalogue import for_client
from pipeline.core.codes import order_id
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.files import write_whole
from pipeline.core.findings import Severity
from pipeline.core.model import Outcome
from pipeline.core.order import OrderFolder
from pipeline.outputs.paper import look
from pipeline.outputs.paper.faces import SANS
from pipeline.outputs.paper.fields import About, Field, finish
from pipeline.outputs.paper.identity import ATTACHMENT, FIELD, SUBJECT, Identity, xmp
from pipeline.outputs.paper.pen import PAPERS, Pen, Repeat, runs
from pipeline.outputs.proofing import cards, front, words
from pipeline.outputs.proofing.entries import Entry, Held, entries, held
from pipeline.outputs.proofing.frame import Frame, heading
from pipeline.outputs.proofing.signing import draw_signing

FIRST_REVISION = "A"
LINE_WIDTH = 0.25
"""Of single-line lettering where the cutter does not say, mm."""


def identity_of(outcome: Outcome, shown: tuple[Entry, ...], unset: tuple[Held, ...], revision: str) -> Identity:
    """What the proof says about itself."""
    return Identity(
        order_id=order_id(outcome.title, outcome.client),
        order_sha256=outcome.order_sha256,
        title=outcome.title,
        client=outcome.client,
        revision=revision,
        designs=tuple(e.design for e in shown),
        unset=tuple(h.unset for h in unset),
    )


def write_proof(outcome: Outcome, folder: OrderFolder, path: Path, *, revision: str | None = None) -> int:
    """Writes the proof of a run and gives its number of pages. Equal input gives equal bytes.

    revision: its letter; without one `[proof] revision`, or else A. CannotRun when the file cannot be written or the
    order asks for a language the proof has no words in.
    """
    data, pages = proof_bytes(outcome, folder, revision=revision)
    write_whole(path, data)
    return pages


def proof_bytes(outcome: Outcome, folder: OrderFolder, *, revision: str | None = None) -> tuple[bytes, int]:
    """As `write_proof`, in memory."""
    part = folder.order.proof
    if part.language.split("-")[0].lower() != words.LANGUAGE:
        raise CannotRun(
            Fault(
                where=f"{folder.file}: [proof] language",
                found=f"“{part.language}”",
                expected=f"“{words.LANGUAGE}”, the only language the proof is written in",
            )
        )
    revision = revision or part.revision or FIRST_REVISION
    units = folder.order.unit
    shown = entries(outcome, units)
    unset = held(outcome, units, words.STOPPED_OTHERWISE)
    width, height = PAPERS[part.paper]
    pen = Pen(width, height, foreign=_foreign(outcome))
    mark = f"order {order_id(outcome.title, outcome.client)} · proof {revision}"
    frame = Frame(pen, outcome.title, part.shop, mark, revision, 0)

    cutter = dict(outcome.cutter)
    point = cutter.get("line_width") or cutter.get("tip") or LINE_WIDTH
    tool = (str(cutter.get("kind", "")), float(point) or LINE_WIDTH)
    plan = cards.plan(pen, shown, outcome.blank, frame.room, frame.depth, tool)
    whole = tuple(
        front.Asked(title=words.WHOLE_ORDER, text=text)
        for f in outcome.findings
        if f.severity is not Severity.NOTE and (text := for_client(f, units))
    )
    questions = [(i, q) for i, e in enumerate(shown) for q in e.questions]
    asked = whole + tuple(front.Asked(title=shown[i].title, text=q) for i, q in questions)

    note = pen.wrap(part.message, look.BODY, frame.room - 10) if part.message else []
    at = 2
    note_page = at if len(note) > 6 else 0
    at += bool(note_page)
    asked_pages = front.plan_questions(frame, asked) if asked else []
    asked_at, at = at, at + len(asked_pages)
    held_pages = front.plan_held(frame, unset) if unset else []
    held_at, at = at, at + len(held_pages)
    index_at, at = at, at + (front.index_pages(frame, len(shown)) if len(plan.pages) > 1 else 0)
    cards_at, at = at, at + len(plan.pages)
    frame.pages = sign_at = at
    page_of = {i: cards_at + n for n, page in enumerate(plan.pages) for i in page}
    asked = whole + tuple(front.Asked(title=shown[i].title, text=q, page=page_of[i]) for i, q in questions)

    front.draw_cover(
        frame,
        front.Cover(
            title=outcome.title,
            client=outcome.client,
            proof=part,
            counts=_counts(shown, asked, unset),
            steps=_steps(asked_at if asked else 0, held_at if unset else 0, sign_at, part.return_to),
            contents=_contents(
                (words.NOTE_HEAD, note_page),
                (words.QUESTIONS_HEAD, asked_at if asked else 0),
                (words.STOPPED_HEAD, held_at if unset else 0),
                (words.INDEX_HEAD, index_at if index_at < cards_at else 0),
                ("Plaques", cards_at if shown else 0),
                (words.SIGN_HEAD, sign_at),
            ),
        ),
        outcome.blank,
    )
    if note_page:
        _draw_note(frame, note)
    front.draw_questions(frame, asked, asked_pages)
    front.draw_held(frame, unset, held_pages)
    if index_at < cards_at:
        front.draw_index(frame, shown, [page_of[i] for i in range(len(shown))])
    _draw_cards(frame, plan)
    draw_signing(
        frame,
        intro=words.SIGN_INTRO.format(
            pieces=words.count(sum(e.design.pieces for e in shown), ("piece", "pieces")),
            first=cards_at,
            last=max(cards_at, sign_at - 1),
            revision=revision,
            title=outcome.title,
        ),
        asked=bool(questions),
        return_to=part.return_to,
    )
    identity = identity_of(outcome, shown, unset, revision)
    title = f"{outcome.title} · proof {revision}"
    told = identity.to_json().decode("ascii")
    frame.fields.append(
        Field(name=FIELD, kind="hidden", page=sign_at, box=(0, 0, 0, 0), tip=words.IDENTITY_TIP, value=told)
    )
    data = finish(
        pen.close(),
        fields=frame.fields,
        links=pen.links,
        unseen=pen.unseen,
        about=About(
            title=title,
            author=part.shop,
            subject=f"{SUBJECT} {identity.order_id} {revision}",
            language=words.LANGUAGE,
            producer=identity.tool,
            xmp=xmp(identity, title, words.LANGUAGE),
            attachment=(ATTACHMENT, "What this proof shows, for reading it back", identity.to_json()),
        ),
    )
    return data, frame.pages


def _counts(
    shown: tuple[Entry, ...], asked: tuple[front.Asked, ...], unset: tuple[Held, ...]
) -> tuple[tuple[int, tuple[str, str]], ...]:
    counts = [
        (len(shown), words.COUNT_DESIGNS),
        (sum(e.design.pieces for e in shown), words.COUNT_PIECES),
        (len(asked), words.COUNT_QUESTIONS),
        (len(unset), words.COUNT_STOPPED),
    ]
    return tuple(c for i, c in enumerate(counts) if c[0] or i < 2)


def _steps(asked_at: int, held_at: int, sign_at: int, return_to: str) -> tuple[tuple[str, str], ...]:
    steps = [words.LOOK, words.MARK]
    if asked_at:
        steps.append((words.QUESTIONS[0], words.QUESTIONS[1].format(page=asked_at)))
    if held_at:
        steps.append((words.CHOOSE[0], words.CHOOSE[1].format(page=held_at)))
    to = f" to {return_to}" if return_to else ""
    steps.append((words.DECIDE[0], words.DECIDE[1].format(page=sign_at, to=to)))
    return tuple(steps)


def _contents(*parts: tuple[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(p for p in parts if p[1])


def _draw_note(frame: Frame, rows: list[str]) -> None:
    frame.begin(words.NOTE_HEAD)
    y = heading(frame, words.NOTE_HEAD)
    frame.pen.lines(frame.left, y, rows, look.BODY)
    frame.end()


def _draw_cards(frame: Frame, plan: cards.Plan) -> None:
    for n, page in enumerate(plan.pages):
        frame.begin("Plaques" if n == 0 else "")
        top = frame.top
        for k, i in enumerate(page):
            card = plan.cards[i]
            if k:
                middle = top + cards.GAP / 2
                frame.pen.line(frame.left, middle, frame.right, middle, look.HAIR)
            frame.pen.bookmark(card.entry.title, 1)
            cards.draw(frame, plan, card, top)
            top -= card.height + cards.GAP
        frame.end()


def _foreign(outcome: Outcome) -> dict[str, Repeat]:
    """How text in scripts that the reading face has not is shown: by repeating the artwork that says it."""
    out: dict[str, Repeat] = {}
    for plaque in outcome.plaques:
        if plaque.artwork is None:
            continue
        for line in plaque.artwork.lines:
            for row in line.rows:
                if any(p.turn for p in row.pieces):
                    continue
                for run, is_own in runs(row.text, SANS):
                    if not is_own and run == row.text.strip() and run not in out:
                        out[run] = Repeat.of_row(row, line.cap_height)
    return out
