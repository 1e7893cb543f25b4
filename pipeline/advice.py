"""Advice tried before it is given: every way out of a finding that says exactly what to change is taken in memory, the
plaque is set and checked that way, and only what is rid of the finding, and brings no new stop, is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pydantic import ValidationError

from pipeline.core.errors import CannotRun
from pipeline.core.findings import Edit, Finding, Severity, Way
from pipeline.core.model import Plaque
from pipeline.core.order_edits import apply_edits
from pipeline.core.recent import LruCache
from pipeline.job import Job
from pipeline.layout.line_texts import line_texts
from pipeline.layout.typesetter import LineText

SAID = ("stroke.", "land.", "groove.", "fit.", "read.", "face.")
"""Codes whose ways are tried: those of lettering, which a plaque alone can tell."""

Fault = tuple[str, int | None]
"""What a finding is about: a line does not fit, for whatever reason, or its code; and the line."""


class Advisor:
    """Tries the ways out of the findings of one order's plaques. What is said of a plaque depends on it alone, so that
    it is the same in any process; equal lines with the same way are tried once."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._jobs: LruCache[Job | None] = LruCache(64)  # by edits
        self._passes: LruCache[bool] = LruCache(4096)

    def advised(self, plaque: Plaque) -> Plaque:
        """The plaque with only those ways that hold."""
        if not any(_tried(f) for f in plaque.findings):
            return plaque
        texts, _ = line_texts(self.job.folder.order, plaque.recipient)
        before = frozenset(_fault(f) for f in plaque.findings if f.severity is Severity.STOP)
        findings = tuple(self._advised(f, texts, before) if _tried(f) else f for f in plaque.findings)
        return replace(plaque, findings=findings)

    def _advised(self, finding: Finding, texts: Sequence[LineText], before: frozenset[Fault]) -> Finding:
        kept: list[Way] = []
        for way in finding.ways:
            several = way.code in SEVERAL or all(way.code != other.code for other in kept)
            if several and (not way.can_be_tried or self._holds(way, finding, texts, before)):
                kept.append(way)
        return finding if len(kept) == len(finding.ways) else replace(finding, ways=tuple(kept))

    def _holds(self, way: Way, finding: Finding, texts: Sequence[LineText], before: frozenset[Fault]) -> bool:
        key = (
            _fault(finding),
            way.edits,
            way.text,
            before,
            tuple((t.line, t.words, t.typed, t.language) for t in texts),
        )
        return self._passes.of(key, lambda: self._try(way, finding, texts, before))

    def _try(self, way: Way, finding: Finding, texts: Sequence[LineText], before: frozenset[Fault]) -> bool:
        job = self._jobs.of(way.edits, lambda: self._changed(way.edits))
        if job is None:
            return False
        if way.text:
            texts = [t.reworded(way.text) if t.line == finding.line else t for t in texts]
        found = job.seen(texts, advise=False).findings
        if any(_fault(f) == _fault(finding) for f in found):
            return False
        return before.issuperset(_fault(f) for f in found if f.severity is Severity.STOP)

    def _changed(self, edits: tuple[Edit, ...]) -> Job | None:
        """The order's job with these edits made; None where the order would not be accepted."""
        if not edits:
            return self.job
        try:
            return self.job.changed(apply_edits(self.job.folder.order, edits))
        except (ValueError, ValidationError, CannotRun):
            return None


SEVERAL = frozenset({"wording", "whole-line", "also"})
"""Ways of which all that hold are said; of the others the first, the least change."""


def _tried(finding: Finding) -> bool:
    return finding.code.startswith(SAID) and any(way.can_be_tried for way in finding.ways)


def _fault(finding: Finding) -> Fault:
    fits = finding.code.startswith("fit.") and finding.severity is Severity.STOP
    return "fit" if fits else finding.code, finding.line
