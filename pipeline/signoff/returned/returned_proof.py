"""Reading a returned proof: its order and revision, what was ticked and written, what is unclear.

Nothing is guessed. A paper that is not a sound proof of this order and revision gives a fatal problem and no answers; a
plaque about which it contradicts itself, or beside which something stands that nobody asked for, is `unclear`.
"""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.core.errors import CannotRun
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes
from pipeline.outputs.pdf.identity import FIELD, SUBJECT, ProofIdentity, ShownDesign, UncutName
from pipeline.signoff.returned.answers import (
    Answer,
    Decision,
    FarAnswer,
    PaperDecision,
    PaperKind,
    PaperProblem,
    Reply,
    ReturnedPaper,
)
from pipeline.signoff.returned.pdf_form import BY_HAND, FormField, tidy_name
from pipeline.signoff.returned.question_answers import (
    YES,
    QuestionAnswers,
    list_places,
    normalise_words,
    read_answer,
    settle_answers,
)
from pipeline.signoff.returned.sent_copy import Difference, Examined, SentCopy, examine

PER_DESIGN = ("correct", "leave", "change")
LAST_PAGE = ("decision", "remarks", "name", "date")
DECIDING = ("decision",)
"""Of these, what a proof leaves out that has nothing to agree to: every plaque of it is stopped."""
DECISIONS: dict[str, PaperDecision] = {
    "agreed-as-shown": "agreed-as-shown",
    "agreed-with-changes": "agreed-with-changes",
    "new-proof": "new-proof",
}
MOST_MB = 256
WHAT = "the proof (.pdf) or the check sheet (.xlsx) that came back"
COURTESIES = frozenset(
    "thanks|thank you|many thanks|thank you very much|thanks a lot|with thanks|none|no remarks|no|-|–|n/a".split("|")
)
"""Remarks without a request (common practice, no source). Any others are for a person to read."""


def read_returned_proof(
    path: Path, *, order_id: str, revision: str, copies: Mapping[tuple[str, int], SentCopy] | None = None
) -> ReturnedPaper:
    """A returned proof PDF as plain data. order_id: see `core.short_codes`; `revision`: the one last sent; copies: the
    proofs that were kept when they were made, by revision and volume.

    A paper that cannot be used has a fatal problem and no answers. CannotRun when the file cannot be read at all.
    """
    data = read_foreign_bytes(path, WHAT, MOST_MB)
    return read_proof_bytes(data, path.name, order_id=order_id, revision=revision, copies=copies)


def read_proof_bytes(
    data: bytes, file: str, *, order_id: str, revision: str, copies: Mapping[tuple[str, int], SentCopy] | None = None
) -> ReturnedPaper:
    """Read a returned proof from memory; see `read_returned_proof`."""
    sha256 = hashlib.sha256(data).hexdigest()

    def refuse(problem: PaperProblem, told: ProofIdentity | None = None) -> ReturnedPaper:
        return _build_unread(file, sha256, told, problems=(problem,))

    try:
        found = read_apart(examine, data, file, dict(copies or {}), where=file, bounds=_set_bounds(len(data)))
    except CannotRun as error:
        said = error.faults[0]
        return refuse(PaperProblem(code="unreadable", found=f"{file}: {said.found}", remedy=said.remedy, fatal=True))
    if isinstance(found, PaperProblem):
        return refuse(found)
    told = _find_identity(found)
    if told is None:
        return refuse(_report_unknown(file, found))
    if told.order_id != order_id:
        whose = f"“{told.title}”" + (f" for {told.client}" if told.client else "")
        return refuse(
            PaperProblem(
                code="other-order",
                found=f"{file} is a proof of another order: {whose}, order {told.order_id}; this one is {order_id}",
                remedy="sign it with the order it belongs to",
                fatal=True,
            ),
            told,
        )
    if told.revision != revision:
        return refuse(
            PaperProblem(
                code="older-revision",
                found=f"{file} is proof {told.revision}; the one last made is proof {revision}",
                remedy=f"ask for proof {revision}, or record by hand what still holds",
                fatal=True,
            ),
            told,
        )
    broken = _find_unusable(file, told, found)
    if broken is not None:
        return refuse(broken, told)
    return understand_proof(file, sha256, told, found)


def _set_bounds(size: int) -> Bounds:
    """Set more time and memory for a long proof: a page of about 10 kB takes about 40 ms when it must be drawn."""
    return Bounds(seconds=8 + size // 250_000, memory_mb=300 + 4 * size // 2**20)


def _build_unread(file: str, sha256: str, told: ProofIdentity | None, **more: object) -> ReturnedPaper:
    own = {"kind": "proof", "file": file, "sha256": sha256, **more}
    if told is not None:
        own |= {"order_id": told.order_id, "order_sha256": told.order_sha256, "title": told.title}
        own |= {"client": told.client, "revision": told.revision, "volume": told.volume}
        own |= {"head": (told.head_rows, told.head_hash)}
    return ReturnedPaper(**own)  # type: ignore[arg-type]


def _find_identity(found: Examined) -> ProofIdentity | None:
    """Read the file's own identity. Two that differ count as none."""
    told = [ProofIdentity.from_json(data) for data in found.identities if data]
    return told[0] if told and all(t == told[0] for t in told) else None


# --- papers that cannot be used ------------------------------------------------------------------------------------


def _report_unknown(file: str, found: Examined) -> PaperProblem:
    if len(found.identities) > 1:
        return PaperProblem(
            code="altered",
            found=f"{file} says two things about which proof it is",
            remedy=f"ask for the whole file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    if found.subject.startswith(SUBJECT):
        return PaperProblem(
            code="flattened",
            found=f"{file} is a proof ({found.subject.removeprefix(SUBJECT).strip()}), but its fields are gone: "
            "it was flattened, or printed to a new file",
            remedy=f"ask for the file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    return PaperProblem(
        code="not-a-proof",
        found=f"{file} holds nothing that says which proof it is: it is another paper, or a proof that was scanned, "
        "printed to a new file or flattened",
        remedy=f"ask for the file as it was filled in, or {BY_HAND}",
        fatal=True,
    )


def _find_unusable(file: str, told: ProofIdentity, found: Examined) -> PaperProblem | None:
    """Find why a proof can't be used: fields missing or there twice, or a copy that it can't be compared with."""
    boxes = found.form.boxes
    expected = {f"{kind}_{d.fingerprint}" for d in told.designs for kind in PER_DESIGN}
    missing = [n for n in LAST_PAGE if n not in boxes and (told.designs or n not in DECIDING)]
    if not (expected | set(LAST_PAGE)) & boxes.keys():
        return PaperProblem(
            code="flattened",
            found=f"{file} is proof {told.revision} of this order, but its fields are gone: it was flattened",
            remedy=f"ask for the file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    what = ""
    if found.form.doubled:
        what = f"fields are doubled ({found.form.doubled[0]}, …)"
    elif missing:
        what = "the page with the decision is missing"
    elif found.compared == "compared" and any(data != found.sent for data in found.identities):
        what = "what it says about which proof it is has been changed"
    if what:
        return PaperProblem(
            code="altered",
            found=f"{file} is not as it was sent: {what}",
            remedy=f"ask for the whole file as it was filled in, or {BY_HAND}",
            fatal=True,
        )
    if found.compared in ("missing", "altered"):
        gone = "is not there" if found.compared == "missing" else "is not the file that was kept"
        return PaperProblem(
            code="no-copy",
            found=f"{file} cannot be compared with proof {told.revision} as it was made: the copy in “sent” {gone}",
            remedy="put the copy back into the folder “sent” beside the ledger",
            fatal=True,
        )
    return None


# --- what it says --------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Doubts:
    """Marks that nobody asked for: the designs they are beside, or the whole paper."""

    of: dict[str, str] = field(default_factory=dict)  # fingerprint -> in words
    whole: str = ""
    told: list[PaperProblem] = field(default_factory=list)


_TORN_DECISION = "on the last page, what is shown and what is stored differ"


def _sort_doubts(told: ProofIdentity, found: Examined) -> _Doubts:
    """Sort differences by the designs they concern."""
    out = _Doubts()
    marks = {d.fingerprint for d in told.designs}
    on_page: defaultdict[int, list[str]] = defaultdict(list)
    pages = found.pages or {name: box.page for name, box in found.form.boxes.items()}
    for mark in marks:
        on_page[pages.get(f"correct_{mark}", 0)].append(mark)
    groups: dict[tuple[str, ...], list[str]] = {}
    for each in (*found.differences, *(() if found.differences else _list_notes(found))):
        kind, _, mark = each.field.partition("_")
        if mark in marks and kind in (*PER_DESIGN, "answer"):
            concerned = [mark]
        else:
            concerned = on_page.get(each.page, []) if each.page and not each.field else []
        if not concerned and not out.whole:
            out.whole = f"{each.found} (page {each.page})" if each.page else each.found
        for mark in concerned:
            out.of.setdefault(mark, each.found)
        where = f"page {each.page}" if each.page else "the file"
        groups.setdefault((where, "every plaque" if not concerned else ""), []).append(each.found)
    for (where, whom), every in groups.items():
        said = list(dict.fromkeys(every))
        shown = "; ".join(said[:3]) + (f" (+{len(said) - 3} more)" if len(said) > 3 else "")
        which = "nothing of it counts as agreed" if whom else "plaques on that page do not count as agreed"
        out.told.append(
            PaperProblem(
                code="notes-added" if found.compared == "none" else "differs",
                found=f"{where} is not as it was sent: {shown}",
                remedy=f"{which} until you decide, each by its number, with --decide",
            )
        )
    remarks = _read_text(found.form.boxes, "remarks")
    if remarks and normalise_words(remarks) not in COURTESIES:
        out.whole = out.whole or "something is written under “remarks”"
        remedy = "read it: nothing on the paper counts as agreed until you decide each one by its number, with --decide"
        out.told.append(PaperProblem(code="remarks", found=f"the remarks say “{remarks}”", remedy=remedy))
    return out


def _list_notes(found: Examined) -> Iterable[Difference]:
    """List, for a proof without a stored copy, the notes beside its fields, and fields that are hidden or on no
    page."""
    if found.compared != "none":
        return
    for page, notes in sorted(found.form.notes.items()):
        for note in notes:
            yield Difference(found=f"a note or drawing was added: “{note[:80]}”", page=page)
    for name, box in found.form.boxes.items():
        if name != FIELD and not (box.page and all(p.seen for p in box.places)):
            yield Difference(found="its field is not shown", page=box.page, field=name)


def understand_proof(
    file: str,
    sha256: str,
    told: ProofIdentity,
    found: Examined,
    *,
    kind: PaperKind = "proof",
    missing: str = "",
    doubt: str = "",
) -> ReturnedPaper:
    """Work out what the fields of a proof say together. missing: why what the last page says of all plaques does not
    count for those without a mark of their own; empty when it does. doubt: why nothing of it counts as agreed."""
    boxes = found.form.boxes
    doubts = _sort_doubts(told, found)
    doubts.whole = doubts.whole or doubt
    problems = list(doubts.told)
    if found.compared == "none":
        kept = f"no copy of proof {told.revision} was kept when it was made (an earlier version of the tool sent it)"
        problems.append(PaperProblem(code="no-copy", found=f"{kept}: only its fields were read"))
    # A proof where nothing can be approved, because every plaque is too long, has neither.
    offered = [box for name in ("decision", "all_correct") if (box := boxes.get(name)) is not None]
    chosen, everything = _read_text(boxes, "decision"), _read_text(boxes, "all_correct") != ""
    decision: PaperDecision = DECISIONS.get(chosen, "")
    if any(box.torn for box in offered) or (chosen and not decision):
        decision, everything = "unclear", False
        torn = next((f"on the last page, {box.why}" for box in offered if box.why), _TORN_DECISION)
        doubts.whole = doubts.whole or torn
        problems.append(_report_contradiction(torn))
    elif everything and decision == "new-proof":
        decision = "unclear"
        problems.append(_report_contradiction("the last page says both “all correct” and “please send a new proof”"))
    blanket = everything or decision in ("agreed-as-shown", "agreed-with-changes")

    asked = _read_question_answers(told, boxes)
    answers = []
    for design in told.designs:
        verdict, why = _decide(design, boxes, decision, blanket, asked, _name_far_questions(told, design))
        if verdict in ("agreed", "depends", "unanswered") and (own_doubt := doubts.of.get(design.fingerprint)):
            verdict, why = "unclear", own_doubt
        if verdict in ("agreed", "depends") and doubts.whole:
            verdict, why = "unclear", doubts.whole
        elif verdict in ("agreed", "depends") and missing and not _read_text(boxes, f"correct_{design.fingerprint}"):
            verdict, why = "unclear", missing
        elif why and verdict == "unclear":
            problems.append(_report_contradiction(why, design))
        answers.append(
            Answer(
                fingerprint=design.fingerprint,
                decision=verdict,
                change_to=_read_wanted(design, boxes, asked) if verdict == "change" else _read_change(design, boxes),
                reply=_read_text(boxes, f"answer_{design.fingerprint}") or _read_yes_beside(design, boxes),
                rows=design.rows,
                cells=design.cells,
                pieces=design.pieces,
                text=design.text,
                why=why,
                no=design.no,
            )
        )
    replies = tuple(
        Reply(row=u.row, cell=u.cell, text=u.text, reply=said, no=u.no)
        for u in told.unset
        if (said := _read_choice(boxes, u))
    )
    replies += asked.build_replies((*told.unset, *told.others))
    far = _read_far_answers(told, asked, decision, doubts.whole)
    remarks, by = _read_text(boxes, "remarks"), tidy_name(_read_text(boxes, "name"))
    told_much = (
        any(a.decision != "unanswered" for a in answers) or replies or asked.given or remarks or decision or everything
    )
    if not told_much and not doubts.told:
        problems.insert(
            0,
            PaperProblem(
                code="empty",
                found=f"{file} came back with nothing filled in",
                remedy="some viewers show what was typed without saving it: ask the client to save and send again",
                fatal=True,
            ),
        )
    elif not by:
        problems.append(PaperProblem(code="no-name", found="no name is filled in", remedy="say who signed with --by"))
    if told_much and not blanket and decision == "":
        open_ones = sum(a.decision == "unanswered" for a in answers)
        if open_ones:
            unmarked = (
                "1 plaque has no mark of its own"
                if open_ones == 1
                else f"{open_ones} plaques have no mark of their own"
            )
            problems.append(
                PaperProblem(
                    code="no-decision",
                    found=f"no decision is made on the last page, and {unmarked}",
                    remedy="ask about what stays open",
                )
            )
    fatal = any(p.fatal for p in problems)
    return _build_unread(
        file,
        sha256,
        told,
        kind=kind,
        by=by,
        date=_read_text(boxes, "date"),
        decision=decision,
        remarks=remarks,
        answers=() if fatal else tuple(answers),
        replies=() if fatal else replies,
        far=() if fatal else far,
        problems=tuple(problems),
    )


def _read_text(boxes: Mapping[str, FormField], name: str) -> str:
    box = boxes.get(name)
    return box.value if box is not None else ""


def _read_choice(boxes: Mapping[str, FormField], name: UncutName) -> str:
    """Return what was ticked and written for a name that can't be cut."""
    ticked = [offer for n, offer in enumerate(name.offers, 1) if _read_text(boxes, f"offer_row{name.row}_{n}")]
    return "\n".join(filter(None, (*ticked, _read_text(boxes, f"choice_row{name.row}"))))


def says_yes(text: str) -> bool:
    """Return whether the text in a change field says yes instead."""
    return bool(text) and normalise_words(text) in YES


def _report_contradiction(found: str, design: ShownDesign | None = None) -> PaperProblem:
    if design is None:
        return PaperProblem(code="contradiction", found=found, remedy="ask the client which is meant")
    name = design.text[0] if design.text else design.fingerprint
    return PaperProblem(
        code="contradiction",
        found=f"“{name}” ({design.fingerprint}): {found}",
        remedy="it does not count as agreed; ask the client what is meant, or decide it by its number",
        fingerprint=design.fingerprint,
    )


def _read_question_answers(told: ProofIdentity, boxes: Mapping[str, FormField]) -> QuestionAnswers:
    """Read the answers to all questions of the proof from its fields."""
    out = []
    for question in (q for q in told.questions if not q.volume):
        fields = list_places(question)
        there = [boxes.get(name) for name in (*fields, question.line)]
        out.append(
            read_answer(
                question,
                [choice for name, choice in fields.items() if _read_text(boxes, name)],
                _read_text(boxes, question.line),
                torn=any(box is None or box.torn for box in there),
            )
        )
    return QuestionAnswers(tuple(out))


def _read_change(design: ShownDesign, boxes: Mapping[str, FormField]) -> str:
    """The wording asked for beside the plaque; what says yes asks for none."""
    written = _read_text(boxes, f"change_{design.fingerprint}")
    return "" if says_yes(written) else written


def _read_yes_beside(design: ShownDesign, boxes: Mapping[str, FormField]) -> str:
    written = _read_text(boxes, f"change_{design.fingerprint}")
    return written if says_yes(written) else ""


def _read_wanted(design: ShownDesign, boxes: Mapping[str, FormField], asked: QuestionAnswers) -> str:
    """Read the wording asked for: beside the plaque, and in the answers to its questions."""
    said, words = settle_answers(asked.list_answers(design.fingerprint), ticked=False)
    own = _read_change(design, boxes)
    return "; ".join(filter(None, (own, words if said == "change" else "")))


def _decide(
    design: ShownDesign,
    boxes: Mapping[str, FormField],
    decision: PaperDecision,
    blanket: bool,
    asked: QuestionAnswers,
    far: str,
) -> tuple[Decision, str]:
    """Decide what the paper says about one design, and why when it is unclear. `blanket`: the last page agrees to the
    rest; `far`: its questions that another volume asks, in words."""
    own = [boxes.get(f"{kind}_{design.fingerprint}") for kind in PER_DESIGN]
    if any(box is None for box in own):
        return "unclear", "its page or its fields are missing"
    tick, leave, change = (box for box in own if box is not None)
    torn = [box for box in (tick, leave, change) if box.torn]
    if torn:
        return "unclear", next((box.why for box in torn if box.why), "what its fields show and what they store differ")
    reply = _read_text(boxes, f"answer_{design.fingerprint}")
    wanted = change.value
    questions = asked.list_answers(design.fingerprint)
    said_there, words = settle_answers(questions, ticked=bool(tick.value))
    if said_there == "unclear":
        return "unclear", words
    if says_yes(wanted):
        reply, wanted = reply or wanted, ""
    marks = Counter(
        {"ticked as correct": bool(tick.value), "to be left out": bool(leave.value), "changed": bool(wanted)}
    )
    said = [what for what, is_said in marks.items() if is_said]
    if len(said) > 1:
        return "unclear", "it is " + " and ".join(said)
    if leave.value or wanted:
        if decision == "agreed-as-shown":
            return "unclear", f"it is {said[0]}, but the last page says “agreed as shown”"
        if leave.value:
            return "refused", ""
        if wanted in (*design.text, "\n".join(design.text)):
            return "unclear", "the change asked for is what it already says"
        return "change", ""
    if tick.value and reply and normalise_words(reply) not in YES:
        return "unclear", f"it is ticked as correct, but the answer to its question is “{reply}”"
    if tick.value:
        return ("depends", far) if far else ("agreed", "")
    if said_there in ("change", "leave") and decision == "agreed-as-shown":
        return "unclear", f"{words}; but the last page says “agreed as shown”"
    if said_there == "change":
        return "change", ""
    if said_there == "leave":
        return "refused", ""
    if reply:
        return "unclear", f"“{reply}” is written beside it, but it is neither ticked nor changed"
    if not blanket:
        return "unanswered", ""
    if decision == "unclear":
        return "unclear", "it has no mark of its own, and the last page contradicts itself"
    if design.asked and said_there != "as-shown" and (questions or not far):
        open_ones = [str(a.question.no) for a in questions if a.said == "unanswered"]
        which = f"question {', '.join(open_ones)} is" if open_ones else "the question beside it is"
        return "unclear", f"{which} not answered"
    return ("depends", far) if far else ("agreed", "")


def _name_far_questions(told: ProofIdentity, design: ShownDesign) -> str:
    """Name the questions about a design that another volume asks; empty when there are none."""
    far = [q for q in told.questions if q.volume and design.fingerprint in q.fingerprints]
    numbers = ", ".join(str(q.no) for q in far)
    return f"question {numbers}, in volume {far[0].volume}, is about it" if far else ""


def _read_far_answers(
    told: ProofIdentity, asked: QuestionAnswers, decision: PaperDecision, doubt: str
) -> tuple[FarAnswer, ...]:
    """Read what the answers mean for plaques that other volumes show. doubt: why nothing of the paper counts."""
    own = {design.fingerprint for design in told.designs}
    marks = dict.fromkeys(m for q in told.questions if not q.volume for m in q.fingerprints if m not in own)
    out = []
    for mark in marks:
        said, words = settle_answers(asked.list_answers(mark), ticked=False)
        if said in ("change", "leave") and decision == "agreed-as-shown":
            said, words = "unclear", f"{words}; but the last page says “agreed as shown”"
        if said == "as-shown" and doubt:
            said, words = "unclear", doubt
        out.append(FarAnswer(fingerprint=mark, said=said, words=words))
    return tuple(out)
