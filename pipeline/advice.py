"""Tries advice before it is given: every way that names its edits is applied in memory, and the plaque is set and
checked again. Only ways that resolve the finding and bring no new stop are kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pydantic import ValidationError

from pipeline.core.config.order_edits import apply_edits
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Edit, Finding, FindingSubject, Severity, Way, get_subject
from pipeline.core.model import Plaque, Recipient
from pipeline.core.storage.lru_cache import LruCache
from pipeline.job import Job
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.typesetter import LineText

SAID = ("stroke.", "land.", "groove.", "fit.", "read.", "face.")
"""Codes whose ways are tried: those of lettering, which can be judged from the plaque alone."""


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    """A plaque whose advice is being tried: its lines, its recipient, and what stops it now."""

    texts: Sequence[LineText]
    recipient: Recipient
    before: frozenset[FindingSubject]


class Advisor:
    """Tries the ways of the findings of one order's plaques. The advice for a plaque depends on that plaque alone, so
    it is the same in any process; equal lines with the same way are tried once."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._jobs: LruCache[Job | None] = LruCache(64)  # by edits
        self._passes: LruCache[bool] = LruCache(4096)

    def advise(self, plaque: Plaque) -> Plaque:
        """Return the plaque with only those ways that hold."""
        if not any(_can_be_tried(f) for f in plaque.findings):
            return plaque
        texts, _ = compose_line_texts(self.job.folder.order, plaque.recipient)
        before = frozenset(get_subject(f) for f in plaque.findings if f.severity is Severity.STOP)
        case = _Case(texts, plaque.recipient, before)
        findings = tuple(self._advise_finding(f, case) if _can_be_tried(f) else f for f in plaque.findings)
        return replace(plaque, findings=findings)

    def _advise_finding(self, finding: Finding, case: _Case) -> Finding:
        kept: list[Way] = []
        for way in finding.ways:
            several = way.code in SEVERAL or all(way.code != other.code for other in kept)
            if several and (not way.can_be_tried or self._holds(way, finding, case)):
                kept.append(way)
        return finding if len(kept) == len(finding.ways) else replace(finding, ways=tuple(kept))

    def _holds(self, way: Way, finding: Finding, case: _Case) -> bool:
        said = tuple((t.line, t.words, t.typed, t.language) for t in case.texts)
        figures = self.job.figures.get_for_plaque(case.recipient).figures
        key = (get_subject(finding), way.edits, way.text, case.before, said, figures)
        return self._passes.get_or_compute(key, lambda: self._try(way, finding, case))

    def _try(self, way: Way, finding: Finding, case: _Case) -> bool:
        job = self._jobs.get_or_compute(way.edits, lambda: self._change_job(way.edits))
        if job is None:
            return False
        texts = case.texts
        if way.text:
            texts = [t.reword(way.text) if t.line == finding.line else t for t in texts]
        figures = job.figures.get_for_plaque(case.recipient)
        found = job.see(texts, figures.figures, advise=False).findings
        if any(get_subject(f) == get_subject(finding) for f in found):
            return False
        before = case.before | {get_subject(f) for f in self.job.figures.stops}
        found = (*found, *figures.findings, *job.figures.stops)
        return before.issuperset(get_subject(f) for f in found if f.severity is Severity.STOP)

    def _change_job(self, edits: tuple[Edit, ...]) -> Job | None:
        """Return the order's job with these edits; None if the order would not be accepted."""
        if not edits:
            return self.job
        try:
            return self.job.change_order(apply_edits(self.job.folder.order, edits))
        except (ValueError, ValidationError, CannotRun):
            return None


SEVERAL = frozenset({"wording", "whole-line", "also"})
"""Ways of which all that hold are said; of the others the first, the least change."""


def _can_be_tried(finding: Finding) -> bool:
    return finding.code.startswith(SAID) and any(way.can_be_tried for way in finding.ways)
