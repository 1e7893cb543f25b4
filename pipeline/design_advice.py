"""Advice on the design: for each line with a fault of the design, what puts it right on every plaque. Each suggestion
was applied in memory, and the whole list set and checked: the line's faults are gone and no plaque has a new stop.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from pydantic import ValidationError

from pipeline.core.catalogue import WAY_KINDS, cut_kinds
from pipeline.core.catalogue import ways as kinds
from pipeline.core.codec import encode_text
from pipeline.core.errors import CannotRun
from pipeline.core.findings import (
    Edit,
    Fact,
    Finding,
    FindingSubject,
    Severity,
    Way,
    build_way,
    get_subject,
    render_way,
)
from pipeline.core.list_row import pack_row
from pipeline.core.model import DesignFault, Plaque, Recipient
from pipeline.core.order_edits import apply_edits, build_face_edits
from pipeline.core.short_codes import hash_values
from pipeline.job import Job, find_common_sizes
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.typesetter import LineText
from pipeline.lettering.shelf import OTHER_LETTERS, rank_style

FACES = 3
"""So many typefaces of the shelf are named."""
TRIED = 8
"""So many are tried: each sets and checks the whole list."""
TRACKINGS = (10, 20, 30, 45, 60)
"""Tracking tried with a typeface whose letters are too close together, thousandths of an em."""
OTHERS = 4
"""Edits proposed for single plaques that are tried for all, at most."""
WAYS = 3
"""Ways that are said of a line that does not fit, at most."""
SIZED = frozenset({kinds.SMALLEST.code, kinds.START_SMALLER.code})
PLAQUES = 2_000
"""Most plaques for which whole designs are tried; in a longer list each plaque has only its own advice."""


@dataclass(frozen=True, slots=True)
class _PlaqueTrial:
    """The texts of one plaque, its recipient, and what stops it now."""

    texts: tuple[LineText, ...]
    recipient: Recipient
    stops: frozenset[FindingSubject]


class DesignAdvisor:
    """Tries changes of a design on all plaques of an order."""

    def __init__(self, job: Job, plaques: Sequence[Plaque], recipients: Sequence[Recipient]) -> None:
        """recipients: of the whole list, which sizes that hold for all of it come from."""
        self.job, self.plaques, self.recipients = job, plaques, recipients
        cases: dict[object, _PlaqueTrial] = {}
        for plaque in sorted(plaques, key=_rate_worst):
            if plaque.artwork is None:
                continue
            texts = tuple(compose_line_texts(job.folder.order, plaque.recipient)[0])
            stops = frozenset(get_subject(f) for f in plaque.findings if f.severity is Severity.STOP)
            stops |= {get_subject(f) for f in job.figures.stops}
            said = tuple((t.line, t.words, t.typed, t.language) for t in texts)
            key = (said, job.figures.get_for_plaque(plaque.recipient).figures)
            cases.setdefault(key, _PlaqueTrial(texts, plaque.recipient, stops))
        self._all = self._cases = tuple(cases.values())
        self._given = hash_values(
            [
                job.compute_key(),
                [encode_text(Recipient, recipient) for recipient in recipients],
                [[pack_row(p.recipient.row), encode_text(tuple[Finding, ...], p.findings)] for p in plaques],
            ]
        )

    def advise(self, fault: DesignFault) -> DesignFault:
        """The fault with every way that puts it right."""
        if not self._all or len(self.plaques) > PLAQUES:
            return fault
        key = (self._given, encode_text(DesignFault, fault))
        ways: tuple[Way, ...] = self.job.cache.get_or_compute(
            "design", key, tuple[Way, ...], lambda: tuple(self._find_ways(fault))
        )
        return replace(fault, ways=ways)

    # --- candidates ---

    def _find_ways(self, fault: DesignFault) -> Iterator[Way]:
        self._cases = self._all  # in their first order, whatever an earlier fault was tried on
        own = [f for p in self.plaques for f in p.findings if f.line == fault.line and f.code in _list_codes(fault)]
        if all(code.startswith("fit.") for code in _list_codes(fault)):
            yield from self._find_fitting(fault, own)
            return
        for sized in self._find_sizes(fault, own):
            if self._holds(fault, sized.edits):
                yield sized
                break
        for candidate in self._list_proposed(own):
            if self._holds(fault, candidate.edits):
                yield candidate
                break
        yield from self._find_faces(fault)

    def _find_fitting(self, fault: DesignFault, own: Sequence[Finding]) -> list[Way]:
        """Ways with which a line fits on every plaque: of what is proposed for single ones the strongest of each kind,
        and typefaces of the shelf. The shortest to say come first, `WAYS` at most."""
        by_kind: dict[str, list[Way]] = {}
        for w in (w for f in own for w in f.ways if w.edits):
            by_kind.setdefault(w.code, []).append(w)
        strongest: list[Way] = []
        for code, found in by_kind.items():
            if code in SIZED:
                strongest.append(min(found, key=lambda w: float(dict(w.facts)["size"])))
            elif code == kinds.ROWS.code:
                strongest.append(max(found, key=lambda w: float(dict(w.facts)["rows"])))
            else:
                same = Counter(w.edits for w in found)
                strongest += [next(w for w in found if w.edits == edits) for edits, _ in same.most_common(OTHERS)]
        held: dict[str, Way] = {}
        for candidate in strongest:
            if candidate.code not in held and self._holds(fault, candidate.edits):
                held[candidate.code] = candidate
        if kinds.NARROW_FACE.code not in held:
            for faced in self._find_faces(fault):
                held[faced.code] = faced
                break
        return sorted(held.values(), key=_measure_words)[:WAYS]

    def _find_sizes(self, fault: DesignFault, own: Iterable[Finding]) -> Iterator[Way]:
        """Yield the least size that is enough for every plaque with too fine a stroke, or the greatest for every one
        with too wide a stroke."""
        larger = [w for f in own for w in f.ways if w.code in (kinds.LARGER.code, kinds.BETWEEN.code)]
        smaller = [w for f in own for w in f.ways if w.code in (kinds.SMALLER.code, kinds.SMALLER_FROM.code)]
        for found, kind, pick in ((larger, kinds.LINE_LARGER, max), (smaller, kinds.LINE_SMALLER, min)):
            if found:
                best = pick(found, key=lambda w: float(dict(w.facts)["size"]))
                yield build_way(kind, *best.edits, facts={"size": dict(best.facts)["size"]})

    def _list_proposed(self, own: Iterable[Finding]) -> list[Way]:
        """List other edits that were proposed for single plaques: the widest of wider spacings, the most common of
        others."""
        left_out = {k.code for k in (kinds.LARGER, kinds.BETWEEN, kinds.SMALLER, kinds.SMALLER_FROM, kinds.TRACKING)}
        counted: dict[tuple[Edit, ...], list[Way]] = {}
        spaced: list[Way] = []
        for finding in own:
            for w in finding.ways:
                if w.code == kinds.TRACKING.code:
                    spaced.append(w)
                elif w.edits and w.code not in left_out:
                    counted.setdefault(w.edits, []).append(w)
        out = [max(spaced, key=lambda w: float(dict(w.facts)["tracking"]))] if spaced else []
        return out + [same[0] for same in sorted(counted.values(), key=len, reverse=True)[:OTHERS]]

    def _find_faces(self, fault: DesignFault) -> Iterator[Way]:
        """Typefaces of the shelf with which the line holds at its size: those of the nearest style first, of these
        those whose every letter has the stroke that is needed, the thinner before the thicker."""
        part = self.job.folder.order.line[fault.line - 1]
        small = [c.worst.limit or 0.0 for c in fault.faults if c.code == cut_kinds.READ_TOO_SMALL.code]
        if small and part.cap_height < max(small):
            return  # however its letters look
        own = self.job.faces[fault.line - 1][0]
        coverage = self.job.coverage
        letters = "".join(
            sorted({c for case in self._cases for t in case.texts if t.line == fault.line for c in t.text})
        )
        thinnest = {s.name: min((w for _, w, _ in s.thinnest), default=0.0) for s in coverage.shelf.faces}
        named, script = 0, {s.name: s.scripts[:1] for s in coverage.shelf.faces}
        source = own.shelf_face
        far = {s.name: rank_style(source, s) for s in coverage.shelf.faces}
        thin = [c.worst.limit or 0.0 for c in fault.faults if c.code == cut_kinds.STROKE_TOO_THIN.code]
        needed = max(thin, default=0.0) / part.cap_height

        def rank(name: str) -> tuple[int, bool, float, str]:
            return far[name], thinnest[name] < needed, thinnest[name], name

        tried = 0
        for name in sorted(coverage.find_faces(letters), key=rank):
            face = coverage.get_face(name)
            if far[name] >= OTHER_LETTERS or tried == TRIED:
                break
            if face.sha256 == own.sha256 or face.single_line != own.single_line or face.joins > own.joins:
                continue
            if part.face in script and script[name] != script[part.face]:
                continue  # it is drawn for another script, whatever letters it has besides
            tried += 1
            edits = build_face_edits(fault.line, part, name)
            facts: dict[str, Fact] = {"face": name, "size": part.cap_height}
            if self._holds(fault, edits):
                yield build_way(kinds.LINE_FACE, *edits, facts=facts)
                named += 1
            elif spaced := self._find_spacing(fault, edits, part.tracking):
                edit = Edit(table="line", number=fault.line, key="tracking", value=spaced)
                yield build_way(kinds.LINE_FACE_SPACED, *edits, edit, facts={**facts, "tracking": spaced})
                named += 1
            if named == FACES:
                return

    def _find_spacing(self, fault: DesignFault, edits: tuple[Edit, ...], tracking: int) -> int:
        """Return the tracking with which a typeface works whose only fault is letters too close together; 0: there is
        none."""
        if fault.line not in self._close(edits):
            return 0
        for wider in TRACKINGS:
            edit = Edit(table="line", number=fault.line, key="tracking", value=wider)
            if wider > tracking and self._holds(fault, (*edits, edit)):
                return wider
        return 0

    def _close(self, edits: tuple[Edit, ...]) -> frozenset[int]:
        """List the lines on which only land is wrong with these edits, on the plaque that failed last."""
        job = self._change_job(edits)
        if job is None:
            return frozenset()
        case = self._cases[0]
        stops = [f for f in _list_findings(job, case) if f.severity is Severity.STOP]
        wrong = {f.line for f in stops if not f.code.startswith("land.") and get_subject(f) not in case.stops}
        return frozenset(f.line for f in stops if f.line and f.code.startswith("land.") and f.line not in wrong)

    # --- trying ---

    def _holds(self, fault: DesignFault, edits: tuple[Edit, ...]) -> bool:
        """Return whether, with these edits, no plaque has a fault of this line or a new stop."""
        job = self._change_job(edits)
        if job is None:
            return False
        codes = _list_codes(fault)
        unfit = any(code.startswith("fit.") for code in codes)  # told so by any of its codes
        for at, case in enumerate(self._cases):
            found = _list_findings(job, case)
            again = any(
                f.line == fault.line
                and (f.code in codes or (unfit and f.severity is Severity.STOP and f.code.startswith("fit.")))
                for f in found
            )
            if again or not case.stops.issuperset(get_subject(f) for f in found if f.severity is Severity.STOP):
                self._cases = (case, *self._cases[:at], *self._cases[at + 1 :])  # what failed is likely to fail next
                return False
        return True

    def _change_job(self, edits: tuple[Edit, ...]) -> Job | None:
        try:
            job = self.job.change_order(apply_edits(self.job.folder.order, edits))
            sizes, _ = find_common_sizes(job, self.recipients)
        except (ValueError, ValidationError, CannotRun):
            return None
        for line, size in sizes.items():
            job.setter.tops[line - 1] = size
        return job


def _list_findings(job: Job, case: _PlaqueTrial) -> tuple[Finding, ...]:
    """Return the findings of the plaque under this job's design, without those of its figures."""
    figures = job.figures.get_for_plaque(case.recipient)
    found = job.see(case.texts, figures.figures, advise=False).findings
    return (*found, *figures.findings, *job.figures.stops)


def _measure_words(said: Way) -> int:
    """How long it is to say to the maker."""
    return len(render_way(WAY_KINDS[said.code].maker, [said]))


def _list_codes(fault: DesignFault) -> frozenset[str]:
    return frozenset(count.code for count in fault.faults)


def _rate_worst(plaque: Plaque) -> float:
    """Rate the worst fault of a plaque, so that the hardest plaques are tried first."""
    ratios = [f.measured / f.limit for f in plaque.findings if f.measured and f.limit and f.severity is Severity.STOP]
    return min((r if r < 1 else 1 / r for r in ratios), default=2.0)
