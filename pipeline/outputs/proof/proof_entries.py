"""The entries of the proof, gathered from the outcome: designs with their rows, names that can't be cut."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.core.catalogue import format_for_client
from pipeline.core.catalogue.fit_kinds import SET_NARROWER, SET_SMALLER
from pipeline.core.design_faults import find_crowded_lines, is_design_fault, is_waiting_for_maker
from pipeline.core.findings import Finding, Severity
from pipeline.core.language.texts import Texts
from pipeline.core.model import Artwork, Outcome, Plaque
from pipeline.core.required import require_value
from pipeline.core.units import Units
from pipeline.outputs.pdf.identity import ShownDesign, UncutName
from pipeline.outputs.revision import EarlierPlaque, Revision


@dataclass(frozen=True, slots=True)
class ProofPlace:
    """The place a finding speaks of, to be shown: mm on the blank, what was measured there, and the letter in words."""

    at: tuple[float, float]
    measured: float
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProofEntry:
    """One card: a design and all plaques of it."""

    title: str  # the recipient's name as typed, tidied up for cutting
    lines: tuple[str, ...]  # the other lines of lettering, or all of them when none is the title
    design: ShownDesign
    artwork: Artwork
    questions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    spots: tuple[ProofPlace, ...] = ()  # places that the questions are about
    earlier: EarlierPlaque | None = None  # the plaque that it replaces
    signed: str = ""  # by whom and when, for a plaque that isn't asked about again


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UncutEntry:
    """A name that cannot be cut as it is."""

    title: str
    unset: UncutName
    reasons: tuple[str, ...]
    stops: tuple[Finding, ...] = ()  # including those of the whole order
    artwork: Artwork | None = None
    spots: tuple[ProofPlace, ...] = ()  # places that the reasons are about
    waits: bool = False  # the maker has to act; the client has nothing to choose


def build_proof_entries(outcome: Outcome, units: Units, revision: Revision, texts: Texts) -> tuple[ProofEntry, ...]:
    """One entry for each fingerprint, in the order of the list."""
    groups: dict[str, list[Plaque]] = {}
    for plaque in outcome.plaques:
        if plaque.state != "stopped" and plaque.artwork is not None and plaque.fingerprint:
            groups.setdefault(plaque.fingerprint, []).append(plaque)
    earlier, signed, numbers = dict(revision.earlier), revision.list_answered_rows(texts), dict(revision.numbers)
    return tuple(
        _build_entry(mark, same, units, texts, earlier.get(mark), signed.get(mark, ""), numbers.get(mark, 0))
        for mark, same in groups.items()
    )


def _build_entry(
    fingerprint: str,
    same: list[Plaque],
    units: Units,
    texts: Texts,
    earlier: EarlierPlaque | None,
    signed: str,
    no: int,
) -> ProofEntry:
    first = same[0]
    title = first.name
    lettered = tuple(t for t in first.text if t.strip())
    questions: dict[str, None] = {}
    notes: dict[str, None] = {}
    for plaque in same:
        for finding in plaque.findings:
            if _can_be_seen(finding) and (words := format_for_client(finding, units, texts)):
                (questions if finding.severity is Severity.ASK else notes).setdefault(words)
    return ProofEntry(
        title=title,
        lines=tuple(t for t in lettered if t != title) if title in lettered else lettered,
        design=ShownDesign(
            fingerprint=fingerprint,
            text=lettered,
            rows=tuple(p.recipient.row for p in same),
            cells=tuple(p.recipient.cell for p in same),
            pieces=sum(p.recipient.copies for p in same),
            asked=bool(questions),
            no=no,
        ),
        artwork=require_value(first.artwork, "the lettering of a plaque with a fingerprint"),
        questions=tuple(questions),
        notes=tuple(notes),
        spots=choose_places_to_show(same[0], Severity.ASK, units, texts),
        earlier=earlier,
        signed=signed,
    )


VISIBLE_SIZE, VISIBLE_WIDTH = 0.9, 92.0
"""A line set smaller or narrower is told where it is at most this part of its designed size, or this percentage of its
normal width: what is less cannot be seen beside others; common practice, no source."""


def _can_be_seen(finding: Finding) -> bool:
    """Return whether a note concerns something that a client sees on the piece."""
    facts = dict(finding.facts)
    if finding.code == SET_SMALLER.code:
        return float(facts["cap_height"]) <= VISIBLE_SIZE * float(facts["designed"])
    return finding.code != SET_NARROWER.code or float(facts["width"]) <= VISIBLE_WIDTH


MOST_SPOTS = 3
"""Places of one plaque that are shown; what is said of further ones stands in words."""


def choose_places_to_show(plaque: Plaque, severity: Severity, units: Units, texts: Texts) -> tuple[ProofPlace, ...]:
    """The places of findings of this severity that the client is told of and that have one on the front."""
    lines = plaque.artwork.lines if plaque.artwork else ()
    back = {line.line for line in lines if line.side == "back"}
    figures = plaque.artwork.figures if plaque.artwork else ()
    behind = {figure.number for figure in figures if figure.side == "back"}
    found: dict[tuple[float, float], ProofPlace] = {}
    for f in plaque.findings if lines or figures else ():
        if f.code.startswith("artwork.") and f.get_fact("number") in behind:
            continue
        if (
            f.severity is severity
            and f.at
            and f.unit == "mm"
            and f.line not in back
            and format_for_client(f, units, texts)
        ):
            label = texts.render_text("proof.spot", letter=f.glyph) if f.glyph else ""
            found.setdefault(f.at, ProofPlace(f.at, abs(f.measured or 0.0), label))
    return tuple(found.values())[:MOST_SPOTS]


def build_uncut_entries(
    outcome: Outcome, units: Units, revision: Revision, texts: Texts, *, show_unfinished: bool = False
) -> tuple[UncutEntry, ...]:
    """Every plaque that is stopped, with the reasons in the client's words; of faults of the design none.
    show_unfinished: with the places of such faults."""
    out, numbers = [], dict(revision.uncut_numbers)
    crowded = find_crowded_lines(outcome.plaques)
    for plaque in outcome.plaques:
        if plaque.state != "stopped":
            continue
        waits = is_waiting_for_maker(plaque, crowded)
        client = [f for f in plaque.findings if not is_design_fault(f, crowded)]
        said: dict[str, None] = {}
        for finding in sorted(client, key=lambda f: f.severity.rank):
            if waits and finding.severity is Severity.NOTE:
                continue  # about a plaque that isn't shown and will be set differently
            if words := format_for_client(finding, units, texts):
                said.setdefault(words)
        stopping = any(f.severity is Severity.STOP and format_for_client(f, units, texts) for f in client)
        raw = dict(plaque.recipient.raw).get(plaque.recipient.named, "").strip()
        out.append(
            UncutEntry(
                title=plaque.name,
                unset=UncutName(
                    row=plaque.recipient.row,
                    cell=plaque.recipient.cell,
                    text=tuple(t for t in plaque.text if t.strip()) or (raw,),
                    no=numbers.get(plaque.recipient.row, 0),
                ),
                reasons=tuple(said) if stopping else (*said, texts.render_text("proof.stopped.otherwise")),
                stops=tuple(f for f in plaque.findings if f.severity is Severity.STOP),
                artwork=plaque.artwork,
                spots=_list_stopped_places(plaque, crowded, texts) if show_unfinished else (),
                waits=waits,
            )
        )
    return tuple(out)


def _list_stopped_places(plaque: Plaque, crowded: frozenset[int], texts: Texts) -> tuple[ProofPlace, ...]:
    """The places of faults of the design on the front."""
    lines = plaque.artwork.lines if plaque.artwork else ()
    front = {line.line for line in lines if line.side != "back"}
    found: dict[tuple[float, float], ProofPlace] = {}
    for f in plaque.findings:
        if f.severity is Severity.STOP and f.at and f.unit == "mm" and f.line in front and is_design_fault(f, crowded):
            name = texts.render_text("proof.spot", letter=f.glyph) if f.glyph else ""
            found.setdefault(f.at, ProofPlace(f.at, abs(f.measured or 0.0), name))
    return tuple(found.values())[:MOST_SPOTS]
