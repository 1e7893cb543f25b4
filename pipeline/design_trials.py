"""Changes of a design tried on every plaque of an order, in memory: which plaque is wrong with them, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pydantic import ValidationError

from pipeline.core.catalogue.fit_kinds import TOO_LONG, TOO_TALL
from pipeline.core.config.order_edits import apply_edits
from pipeline.core.design_faults import is_many
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Edit, Finding, FindingSubject, Severity, get_subject
from pipeline.core.list_row import ListRow
from pipeline.core.model import DesignFault, Plaque, Recipient
from pipeline.job import Job, find_common_sizes
from pipeline.layout.fit_findings import LEAST_SHARE
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.typesetter import LineText

SIZED = (TOO_LONG.code, TOO_TALL.code)
"""Codes of findings that measure the size at which a text would fit, against the smallest allowed."""


@dataclass(frozen=True, slots=True)
class TriedPlaque:
    """The texts of plaques that read alike, the recipient of the first, what stops it now, and how many there are."""

    texts: tuple[LineText, ...]
    recipient: Recipient
    stops: frozenset[FindingSubject]
    count: int = 1


@dataclass(frozen=True, slots=True)
class TrialFailure:
    """The first plaque that a changed design doesn't put right. wrong: what is wrong with it; sizes: cap heights (mm)
    its lines were set at, by number, of those that fit."""

    job: Job
    plaque: TriedPlaque
    wrong: tuple[Finding, ...]
    sizes: dict[int, float]


class DesignTrials:
    """Tries changes of a design on all plaques of an order that read differently, but for a few whose texts no design
    would take (`_is_hopeless`)."""

    def __init__(self, job: Job, plaques: Sequence[Plaque], recipients: Sequence[Recipient]) -> None:
        """recipients: of the whole list, which sizes that hold for all of it come from."""
        self.job, self.recipients = job, recipients
        cases: dict[object, TriedPlaque] = {}
        hopeless = [p.recipient.row for p in plaques if _is_hopeless(p)]
        left_out: frozenset[ListRow] = frozenset() if is_many(len(hopeless), len(plaques)) else frozenset(hopeless)
        for plaque in sorted(plaques, key=_rate_worst):
            if plaque.artwork is None or plaque.recipient.row in left_out:
                continue
            texts = tuple(compose_line_texts(job.folder.order, plaque.recipient)[0])
            stops = frozenset(get_subject(f) for f in plaque.findings if f.severity is Severity.STOP)
            stops |= {get_subject(f) for f in job.figures.stops}
            said = tuple((t.line, t.words, t.typed, t.language) for t in texts)
            key = (said, job.figures.get_for_plaque(plaque.recipient).figures)
            known = cases.get(key)
            one = TriedPlaque(texts, plaque.recipient, stops)
            cases[key] = replace(known, count=known.count + 1) if known else one
        self._all = self._cases = tuple(cases.values())
        tried = [p for p in plaques if p.recipient.row not in left_out]
        self.nowhere = {f.line for p in tried for f in p.findings if f.code in SIZED and f.measured == 0.0}
        """Lines that would fit at no size at all."""

    def __len__(self) -> int:
        """Return how many plaques are tried: those that read differently."""
        return len(self._all)

    def begin(self) -> None:
        """Go through the plaques in their first order again, whatever was tried before."""
        self._cases = self._all

    def list_letters(self, line: int) -> str:
        """List every character that a line shows on any plaque."""
        return "".join(sorted({c for case in self._all for t in case.texts if t.line == line for c in t.text}))

    def holds(self, fault: DesignFault, edits: tuple[Edit, ...]) -> bool:
        """Return whether, with these edits, no plaque has a fault of this line or a new stop."""
        job = self._change_job(edits)
        return job is not None and self._find_failure(job, fault) is None

    def find_failure(self, fault: DesignFault, edits: tuple[Edit, ...]) -> TrialFailure | None:
        """Return the first plaque that these edits don't put right; None when they put all right. ValueError when the
        order would not be accepted with them."""
        job = self._change_job(edits)
        if job is None:
            raise ValueError("not an order")
        return self._find_failure(job, fault)

    def count_wrong(self, fault: DesignFault, edits: tuple[Edit, ...]) -> dict[str, int]:
        """Count the plaques that are wrong with these edits, by the code of what is wrong with each first."""
        job = self._change_job(edits)
        out: dict[str, int] = {}
        for case in self._all if job else ():
            if job and (wrong := _list_wrong(case, _list_findings(job, case), fault)):
                worst = min(wrong, key=lambda f: f.severity.rank)
                out[worst.code] = out.get(worst.code, 0) + case.count
        return out

    def list_close_lines(self, edits: tuple[Edit, ...]) -> frozenset[int]:
        """List the lines on which only land is wrong with these edits, on the plaque that failed last."""
        job = self._change_job(edits)
        if job is None:
            return frozenset()
        case = self._cases[0]
        stops = [f for f in _list_findings(job, case) if f.severity is Severity.STOP]
        wrong = {f.line for f in stops if not f.code.startswith("land.") and get_subject(f) not in case.stops}
        return frozenset(f.line for f in stops if f.line and f.code.startswith("land.") and f.line not in wrong)

    def _find_failure(self, job: Job, fault: DesignFault) -> TrialFailure | None:
        for at, case in enumerate(self._cases):
            figures = job.figures.get_for_plaque(case.recipient)
            seen = job.see(case.texts, figures.figures, advise=False)
            found = (*seen.findings, *figures.findings, *job.figures.stops)
            if wrong := _list_wrong(case, found, fault):
                self._cases = (case, *self._cases[:at], *self._cases[at + 1 :])  # likeliest to fail next
                sizes = {t.text.line: t.setting.cap_height for t in seen.tried if t.setting}
                return TrialFailure(job, case, wrong, sizes)
        return None

    def _change_job(self, edits: tuple[Edit, ...]) -> Job | None:
        try:
            job = self.job.change_order(apply_edits(self.job.folder.order, edits))
            sizes, _ = find_common_sizes(job, self.recipients)
        except (ValueError, ValidationError, CannotRun):
            return None
        for line, size in sizes.items():
            job.setter.tops[line - 1] = size
        return job


def list_codes(fault: DesignFault) -> frozenset[str]:
    """List the codes of what is wrong with the line."""
    return frozenset(count.code for count in fault.faults)


def find_fitting_size(failure: TrialFailure, line: int) -> float:
    """Find the size (mm) at which the text of a line that does not fit would fit its place; 0 where none does."""
    figures = failure.job.figures.get_for_plaque(failure.plaque.recipient)
    found = failure.job.see(failure.plaque.texts, figures.figures).findings
    sizes = [f.measured for f in found if f.line == line and f.code in SIZED]
    return min((size for size in sizes if size is not None), default=0.0)


def _list_wrong(case: TriedPlaque, found: Sequence[Finding], fault: DesignFault) -> tuple[Finding, ...]:
    """List the faults of the line that a plaque has, and its new stops."""
    codes = list_codes(fault)
    unfit = any(code.startswith("fit.") for code in codes)  # any fit finding means that it doesn't fit

    def is_wrong(f: Finding) -> bool:
        stops = f.severity is Severity.STOP
        if f.line == fault.line and (f.code in codes or (unfit and stops and f.code.startswith("fit."))):
            return True
        return stops and get_subject(f) not in case.stops

    return tuple(filter(is_wrong, found))


def _list_findings(job: Job, case: TriedPlaque) -> tuple[Finding, ...]:
    """Return the findings of the plaque under this job's design, without those of its figures."""
    figures = job.figures.get_for_plaque(case.recipient)
    found = job.see(case.texts, figures.figures, advise=False).findings
    return (*found, *figures.findings, *job.figures.stops)


def _is_hopeless(plaque: Plaque) -> bool:
    """Return whether a text needs another wording, whatever is done about the design: it would fit only at a size that
    nobody would be advised. A few of them are questions for the client, and no trial is made with them."""
    return any(
        f.code == TOO_LONG.code and f.limit and (f.measured or 0.0) < LEAST_SHARE / 2 * f.limit for f in plaque.findings
    )


def _rate_worst(plaque: Plaque) -> float:
    """Rate the worst fault of a plaque, so that the hardest plaques are tried first."""
    ratios = [f.measured / f.limit for f in plaque.findings if f.measured and f.limit and f.severity is Severity.STOP]
    return min((r if r < 1 else 1 / r for r in ratios), default=2.0)
