"""The proof: the paper the client checks, fills in or signs, and sends back. A great one comes in volumes.

Pages are planned first, so that every page can say "page x of y" and name the pages of others, and then drawn. The
lettering is the artwork's own curves: nothing is set again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.core.catalogue import list_stopping
from pipeline.core.config.order import Order, OrderFolder, ProofConfig
from pipeline.core.language.client_texts import load_client_texts
from pipeline.core.language.texts import Texts
from pipeline.core.list_row import ListRow
from pipeline.core.model import Outcome, Plaque, ShapedRow
from pipeline.core.short_codes import build_short_code
from pipeline.core.storage.files import write_whole
from pipeline.cutting.cutters import CUTTER_KINDS, Cutter
from pipeline.outputs.client_questions import build_client_questions
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.font_fallback import RepeatedLettering, split_by_font
from pipeline.outputs.pdf.fonts import SANS, covers
from pipeline.outputs.pdf.form_fields import FormBuilder
from pipeline.outputs.pdf.identity import ATTACHMENT, FIELD, NAMESPACE, SUBJECT, ProofIdentity, add_drawings
from pipeline.outputs.pdf.logo import LogoPicture, read_logo
from pipeline.outputs.pdf.material_look import choose_look
from pipeline.outputs.pdf.metadata import Attachment, DocumentInfo
from pipeline.outputs.pdf.text_style import PAPERS
from pipeline.outputs.proof import cards, cover, lists, question_pages
from pipeline.outputs.proof.decision import SigningTexts, draw_signing
from pipeline.outputs.proof.page_frame import ProofPages, describe_volume
from pipeline.outputs.proof.page_mark import PageMark
from pipeline.outputs.proof.proof_entries import ProofEntry, UncutEntry, build_proof_entries, build_uncut_entries
from pipeline.outputs.proof.volume_questions import VolumeQuestions, share_questions
from pipeline.outputs.proof.volumes import Volume, assign_volumes, build_volumes, is_proof
from pipeline.outputs.revision import FIRST, HangingPlaque, Revision, build_identity
from pipeline.outputs.row_totals import (
    ELSEWHERE,
    FINISHED,
    LEFT_OUT,
    MOST,
    STOPPED,
    count_reasons,
    count_rows,
    describe_part_for_client,
)

LINE_WIDTH = 0.25
"""Of single-line lettering where the cutter does not say, mm."""
Assigned = Mapping[str, int]
"""Fingerprint -> the volume a design stood in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofFile:
    """One finished file of a proof."""

    name: str
    data: bytes
    pages: int


def write_proofs(
    outcome: Outcome,
    folder: OrderFolder,
    target: Path,
    revision: Revision = FIRST,
    captions: Mapping[str, ShapedRow] | None = None,
    earlier: Assigned | None = None,
) -> tuple[str, ...]:
    """Writes the proof of a run into `target`, volume after volume, takes away volumes of another run that are no more,
    and gives the names of its files. Arguments and errors as of `write_proof_files`; CannotRun too when a file cannot
    be written."""
    written = []
    for file in write_proof_files(outcome, folder, revision, captions, earlier):
        write_whole(target / file.name, file.data)
        written.append(file.name)
    withdraw_proofs(target, written)
    return tuple(written)


def withdraw_proofs(target: Path, but: Collection[str] = ()) -> None:
    """Takes proofs of earlier runs away from `target`, so that nobody sends them; copies in `sent/` stay."""
    for path in target.iterdir():
        if is_proof(path.name) and path.name not in but:
            path.unlink(missing_ok=True)


def write_proof_files(
    outcome: Outcome,
    folder: OrderFolder,
    revision: Revision = FIRST,
    captions: Mapping[str, ShapedRow] | None = None,
    earlier: Assigned | None = None,
    texts: Texts | None = None,
) -> Iterator[ProofFile]:
    """The proof of a run, one volume after the other. Equal input gives equal bytes.

    revision: which proof it is and whom it asks; a volume that asks for nothing is left out, unless all do. captions:
    rows shaped for texts of `list_foreign_texts`, to show names in running text in scripts the reading typefaces have
    not; without one the artwork is repeated where it says the text, and otherwise its code points are spelt out.
    earlier: in which volume designs stood before. texts: other ones than those of the order's language. CannotRun when
    the order asks for a language there is no catalogue of.
    """
    part = folder.order.proof
    texts = texts or load_client_texts(folder.order, str(folder.file))
    units = texts.localise_units(folder.order.unit)
    if revision == FIRST and part.revision:
        revision = replace(FIRST, letter=part.revision)
    outcome = revision.drop_finished(outcome)
    everything = build_proof_entries(outcome, units, revision, texts)
    stopped = build_uncut_entries(outcome, units, revision, texts, show_unfinished=part.unfinished == "show")
    volume_of = _assign_volumes(tuple(e.design.fingerprint for e in everything), folder.order, revision, earlier)
    held_in = _assign_held(outcome, volume_of)
    asked = {volume_of[e.design.fingerprint] for e in everything if revision.asks_for(e.design.fingerprint)}
    drawn, wanted = _repeat_foreign(outcome, captions or {}), _choose_wanted(volume_of, asked | set(held_in.values()))
    asking = {mark: n for mark, n in volume_of.items() if revision.asks_for(mark)}
    by_volume = {
        n: [p for p in outcome.plaques if _find_volume(p, asking, held_in) == n]
        for n in (volume.number or 1 for volume in wanted)
    }
    concerned = {p.recipient.row for own in by_volume.values() for p in own}
    asked_about = [p for p in outcome.plaques if p.recipient.row in concerned]
    every = build_client_questions(outcome, units, texts, plaques=asked_about)
    shared = share_questions(every, by_volume)
    for volume in wanted:
        number = volume.number or 1
        own = [e for e in everything if volume_of[e.design.fingerprint] == number]
        shown = [e for e in own if revision.asks_for(e.design.fingerprint)]
        questions = shared[number]
        home = describe_volume(texts, replace(volume, number=questions.home))
        about = question_pages.list_references(questions, texts, home)
        far = {row for q in questions.asked for row in q.stopped}
        matter = _ProofContents(
            shown=tuple(
                replace(e, questions=(), notes=(*about.get(e.design.fingerprint, ()), *e.notes)) for e in shown
            ),
            agreed=tuple(e for e in own if not revision.asks_for(e.design.fingerprint)),
            unset=tuple(h for h in stopped if held_in[h.unset.row] == number),
            questions=questions,
            others=tuple(h for h in stopped if held_in[h.unset.row] != number and h.unset.row in far),
            finished=revision.finished,
            volume=volume,
        )
        yield _write_file(outcome, folder, matter, revision, drawn, texts)


def _find_volume(plaque: Plaque, asking: Assigned, held_in: Mapping[ListRow, int]) -> int:
    """Find the volume that asks about a plaque; 0: none. asking: of the designs that are asked for."""
    return held_in[plaque.recipient.row] if plaque.state == "stopped" else asking.get(plaque.fingerprint, 0)


def _assign_volumes(
    marks: tuple[str, ...], order: Order, revision: Revision, earlier: Assigned | None
) -> dict[str, int]:
    replaces = {mark: was.fingerprint for mark, was in revision.earlier}
    return assign_volumes(marks, order.proof.volume, earlier or dict(revision.volumes), replaces)


def _assign_held(outcome: Outcome, volume_of: Assigned) -> dict[ListRow, int]:
    """The volume of each row that cannot be cut: that of the plaque before it in the list."""
    found: dict[ListRow, int] = {}
    at = 1
    for plaque in outcome.plaques:
        if plaque.state == "stopped":
            found[plaque.recipient.row] = at
        else:
            at = volume_of.get(plaque.fingerprint, at)
    return found


def _choose_wanted(volume_of: Assigned, asked: set[int]) -> tuple[Volume, ...]:
    """The volumes to be written: those that ask for something; the first when none does."""
    volumes = build_volumes(volume_of.values())
    return tuple(v for v in volumes if (v.number or 1) in asked) or volumes[:1]


def list_foreign_texts(outcome: Outcome, order: Order) -> frozenset[str]:
    """The texts of this run's proof that its reading faces cannot show: words, or words with the blanks between."""
    texts = [outcome.title, outcome.client, *(getattr(order.proof, k) for k in ("shop", "contact", "message"))]
    words = load_client_texts(order)
    for entry in build_proof_entries(outcome, words.localise_units(order.unit), FIRST, words):
        texts += [entry.title, *entry.design.text, *entry.questions, *entry.notes]
    for item in build_uncut_entries(outcome, words.localise_units(order.unit), FIRST, words):
        texts += [item.title, *item.reasons]
    for asked in build_client_questions(outcome, words.localise_units(order.unit), words):
        texts += [asked.words, *asked.names, *(choice.words for choice in asked.choices)]
    return frozenset(
        run for text in texts if not covers(text, SANS) for run, is_own in split_by_font(text, SANS) if not is_own
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ProofContents:
    """Everything the proof shows."""

    shown: tuple[ProofEntry, ...]  # asked about in this revision
    agreed: tuple[ProofEntry, ...]  # signed off earlier, so not asked about again
    unset: tuple[UncutEntry, ...]
    questions: VolumeQuestions
    volume: Volume
    others: tuple[UncutEntry, ...] = ()  # in other volumes, but the questions concern them
    finished: tuple[HangingPlaque, ...] = ()  # already cut, so not asked about


def _write_file(
    outcome: Outcome,
    folder: OrderFolder,
    matter: _ProofContents,
    revision: Revision,
    foreign: Mapping[str, RepeatedLettering],
    texts: Texts,
) -> ProofFile:
    part, volume = folder.order.proof, matter.volume
    who = build_identity(outcome, revision)
    told = ProofIdentity(
        order_id=who.order_id,
        order_sha256=who.order_sha256,
        title=who.title,
        client=who.client,
        revision=who.revision,
        head_rows=revision.head[0],
        head_hash=revision.head[1],
        designs=tuple(e.design for e in matter.shown),
        unset=tuple(h.unset for h in matter.unset),
        questions=(
            *map(question_pages.to_proof_question, matter.questions.asked),
            *(
                replace(question_pages.to_proof_question(q), volume=matter.questions.home)
                for q in matter.questions.elsewhere
            ),
        ),
        others=tuple(h.unset for h in matter.others),
        volume=volume.number,
        part=outcome.part,
    )
    short = told.to_json()
    content = build_short_code(told.hash_content(), 6)
    mark = PageMark(order_id=who.order_id, revision=revision.letter, volume=volume.number, page=1, content=content)
    pen = PaperCanvas(*PAPERS[part.paper], foreign=dict(foreign), language=texts.language)
    named = [texts.render_text("proof.mark", revision=revision.letter)]
    named += [describe_volume(texts, volume)] if volume.number else []
    named += [part_of] if (part_of := describe_part_for_client(texts, outcome)) else []
    frame = ProofPages(
        pen=pen,
        title=outcome.title,
        shop=part.shop,
        telephone=part.telephone,
        told=" · ".join([texts.render_text("proof.mark.order", order=who.order_id), *named]),
        mark=mark,
        revision=revision.letter,
        pages=0,
        form=FormBuilder(pen),
        volume=volume,
        home=matter.questions.home,
        texts=texts,
    )
    plan = cards.lay_out_cards(
        frame,
        matter.shown,
        outcome.blank,
        _build_cutter_view(outcome, folder.order),
        texts.localise_units(folder.order.unit),
        part.layout,
    )
    logo = read_logo(folder.resolve_path(part.logo)) if part.logo else None
    _draw(frame, matter, outcome, part, plan, short, logo)
    data = _finish_file(frame, matter, told, short, part, " · ".join([told.title, *named]))
    return ProofFile(name=volume.file, data=data, pages=frame.pages)


def _build_cutter_view(outcome: Outcome, order: Order) -> cards.CutterView:
    cutter = dict(outcome.cutter)
    widths = (cutter.get(name) for name in ("line_width", "tip", "kerf"))
    point = next((float(w) for w in widths if w), LINE_WIDTH)
    surface = CUTTER_KINDS.get(str(cutter.get("kind")), Cutter).surface
    return cards.CutterView(look=choose_look(order, surface), point=point, fixed=order.fixed_lines)


def _draw(
    frame: ProofPages,
    matter: _ProofContents,
    outcome: Outcome,
    part: ProofConfig,
    plan: cards.CardLayout,
    identity: bytes,
    logo: LogoPicture | None,
) -> None:
    """Plans the pages before the plaques, then draws all of them."""
    shown, texts = matter.shown, frame.texts
    asked_all = (*matter.questions.asked, *matter.questions.elsewhere)
    asked_pages = question_pages.plan_questions(frame, asked_all)
    whole_stop = set(list_stopping(outcome.findings, "order"))
    asked = {row for question in asked_all for row in question.stopped}
    waiting = tuple(h for h in matter.unset if h.waits or (h.unset.row not in asked and set(h.stops) - whole_stop))
    waiting_pages = lists.plan_uncut(frame, waiting)

    whole = "proof.nothing.whole" if whole_stop else "proof.nothing.text"
    nothing = ("proof.nothing", whole) if not shown and not matter.agreed else None
    counts = {
        "proof.questions": len(asked_pages),
        "proof.waiting": len(waiting_pages),
        "proof.index": lists.count_index_pages(frame, len(shown)) if len(plan.pages) > 1 else 0,
        "proof.cards": len(plan.pages),
        "proof.agreed": lists.count_agreed_pages(frame, len(matter.agreed)),
        "proof.sign": 1,
    }

    def compose_cover(starts: dict[str, int], message: bool) -> cover.CoverTexts:
        return cover.CoverTexts(
            title=outcome.title,
            client=outcome.client,
            proof=part,
            counts=_list_counts(matter),
            steps=cover.draw_steps(
                frame, _drop_far_questions(starts, matter), len(shown), len(matter.agreed), part.return_to, nothing
            ),
            contents=tuple(starts.items()),
            rows=_describe_rows(texts, matter, outcome),
            logo=logo,
            message=message,
            finished=matter.finished,
            unit=plan.units.name,
        )

    starts = _compute_starts(counts)
    fits = not part.message or cover.message_fits(frame, compose_cover(starts, True), outcome.blank)
    if not fits:
        starts = _compute_starts({"proof.note": 1, **counts})
    frame.pages = starts["proof.sign"]
    first = starts.get("proof.cards", 0)
    page_of = {i: first + n for n, page in enumerate(plan.pages) for i in page}
    places = [page_of[i] for i in range(len(shown))]
    cover.draw_cover(frame, compose_cover(starts, fits), outcome.blank)
    if not fits:
        cover.draw_note(frame, part.message)
    page_of_mark = {e.design.fingerprint: places[i] for i, e in enumerate(shown)}
    question_pages.draw_questions(frame, asked_all, asked_pages, page_of_mark)
    lists.draw_uncut(frame, waiting, waiting_pages, plan.blank, plan.tool.point)
    if "proof.index" in starts:
        lists.draw_index(frame, shown, places)
    cards.draw_cards(frame, plan)
    lists.draw_agreed(frame, matter.agreed)
    covers = texts.render_text(
        "proof.sign.intro" if len(plan.pages) > 1 else "proof.sign.intro.page",
        pieces=texts.render_plural("proof.pieces", sum(e.design.pieces for e in shown)),
        first=first,
        last=first + len(plan.pages) - 1,
        revision=frame.revision,
        title=outcome.title,
    )
    if matter.volume.number:
        own = texts.render_text("proof.sign.volume", volume=describe_volume(texts, matter.volume))
        covers = f"{covers} {own}"
    here = {mark for question in matter.questions.asked for mark in question.fingerprints}
    frame.form.add_hidden(FIELD, identity.decode("ascii"), texts.render_text("proof.identity.tip"))
    intro = texts.render_text(nothing[1]) if nothing else covers if shown else ""
    draw_signing(
        frame,
        SigningTexts(
            intro=intro,
            asked=any(e.design.fingerprint in here for e in shown),
            next=_describe_next_steps(texts, part, nothing is not None),
            nothing=bool(nothing),
        ),
    )


def _drop_far_questions(starts: dict[str, int], matter: _ProofContents) -> dict[str, int]:
    """The pages to be filled in: without that of questions when all of them are answered in another volume."""
    return {key: page for key, page in starts.items() if key != "proof.questions" or matter.questions.asked}


def _compute_starts(counts: Mapping[str, int]) -> dict[str, int]:
    """The first page of each part that has any, after the cover."""
    out, at = {}, 2
    for name, count in counts.items():
        if count:
            out[name] = at
        at += count
    return out


def _describe_next_steps(texts: Texts, part: ProofConfig, nothing: bool) -> tuple[str, ...]:
    """Describe how to send the answer, by when, and what happens next."""
    to = [texts.render_text("proof.sign.return", to=part.return_to)] if part.return_to else []
    by = [texts.render_text("proof.reply-by", day=part.reply_by)] if part.reply_by else []
    then = [] if nothing else [texts.render_text("proof.next.text")]
    how = [texts.render_text("proof.sign.keep-file")]
    phone = [texts.render_text("proof.telephone", number=part.telephone)] if part.telephone else []
    return (
        " ".join((*how, *to)),
        *(() if nothing else (texts.render_text("proof.reply"),)),
        *then,
        " ".join((*by, *phone)),
    )


_FATES = {
    FINISHED: "proof.tally.finished",
    STOPPED: "proof.tally.stopped",
    ELSEWHERE: "proof.tally.elsewhere",
    LEFT_OUT: "proof.tally.left-out",
}
"""What became of rows that this proof does not show, by the word of the accounts: ids."""


def _describe_rows(texts: Texts, matter: _ProofContents, outcome: Outcome) -> str:
    """Describe which rows of the list this proof shows, and where the rest is."""
    own = {
        "proof.tally.shown": [row for e in matter.shown for row in e.design.rows],
        "proof.tally.agreed": [row for e in matter.agreed for row in e.design.rows],
    }
    counted = count_rows(outcome, own)
    told = [texts.render_plural(_FATES.get(kind, kind), len(rows)) for kind, rows in counted.kinds if rows]
    told += [texts.render_plural("proof.tally.open", len(counted.open))] if counted.open else []
    sums = texts.render_plural(
        "proof.tally", len(counted.rows), told=", ".join(told) or texts.render_text("proof.tally.none")
    )
    said = (describe_part_for_client(texts, outcome, "proof.part.cover"), sums, _describe_left_out(texts, outcome))
    return " ".join(filter(None, said))


def _describe_left_out(texts: Texts, outcome: Outcome) -> str:
    """`Left out: the header, 2 × a totals row.` Empty when nothing was."""
    reasons = count_reasons(outcome)
    told = [
        reason if n == 1 else texts.render_text("proof.left-out.times", n=n, reason=reason)
        for reason, n in ((texts.translate_phrase(reason), n) for reason, n in [*reasons.items()][:MOST])
    ]
    more = sum([*reasons.values()][MOST:])
    told += [texts.render_plural("proof.left-out.more", more)] if more else []
    return texts.render_text("proof.left-out", reasons=", ".join(told)) if told else ""


def _list_counts(matter: _ProofContents) -> tuple[tuple[int, str], ...]:
    counts = [
        (len(matter.shown), "proof.cover.count.plaques"),
        (sum(e.design.pieces for e in matter.shown), "proof.cover.count.pieces"),
        (len(matter.questions.asked), "proof.cover.count.questions"),
        (len(matter.unset), "proof.cover.count.stopped"),
        (len(matter.agreed), "proof.cover.count.agreed"),
    ]
    return tuple(c for i, c in enumerate(counts) if c[0] or i < 2)


def _finish_file(
    frame: ProofPages, matter: _ProofContents, told: ProofIdentity, short: bytes, part: ProofConfig, title: str
) -> bytes:
    """The drawn pages with all that lets the proof be recognised."""
    about = DocumentInfo(
        title=title,
        author=part.shop,
        subject=f"{SUBJECT} {told.order_id} {told.revision}",
        language=frame.texts.language,
        creator=told.tool,
        namespace=(NAMESPACE, "proof"),
        metadata={"order": told.order_id, "orderFile": told.order_sha256, "revision": told.revision},
        attachment=Attachment(
            name=ATTACHMENT,
            description=frame.texts.render_text("proof.identity.tip"),
            kind="application/json",
            parts=add_drawings(short, ((e.design.fingerprint, e.artwork) for e in matter.shown)),
        ),
    )
    return frame.pen.finish(about, frame.form.fields)


def _repeat_foreign(outcome: Outcome, captions: Mapping[str, ShapedRow]) -> dict[str, RepeatedLettering]:
    """Prepare text in scripts missing from the reading faces: shaped for it, or the artwork that says it."""
    out = {text: RepeatedLettering.from_shaped(row) for text, row in captions.items()}
    for plaque in outcome.plaques:
        if plaque.artwork is None:
            continue
        for line in plaque.artwork.lines:
            for row in line.rows:
                if covers(row.text, SANS):
                    continue
                drawn = {c for p in row.pieces for use in p.shape.glyphs for c in use.text}
                if any(p.turn for p in row.pieces) or set("".join(row.text.split())) - drawn:
                    continue  # on an arc, or with characters that none of the line's typefaces has
                for run, is_own in split_by_font(row.text, SANS):
                    if not is_own and run == row.text.strip() and run not in out:
                        out[run] = RepeatedLettering.from_row(row, line.cap_height)
    return out
