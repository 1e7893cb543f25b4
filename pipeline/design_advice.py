"""Advice on the design: for each line with a fault of the design, what puts it right on every plaque. Each suggestion
was applied in memory, and the whole list set and checked: the line's faults are gone and no plaque has a new stop.

First single changes are tried: another size, spacing, break, cutter or typeface. Where none is enough, several together
are (`_find_combined`). Where nothing is, the nearest is told, with what it leaves wrong.

Ways are told in this order, so that the first changes least of what the client has seen (`_rate_change`):
1. changes of this line in its own typeface, then of the cutter, the finish or other tables, then another typeface;
2. of these the fewest changes;
3. of equally many, those that keep the size, then the smallest change of size;
4. then by what changes the look least, see `LOOKS`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import log

from pipeline.core.catalogue import cut_kinds, get_kind
from pipeline.core.catalogue import ways as kinds
from pipeline.core.config.order import LineConfig
from pipeline.core.config.order_edits import build_face_edits
from pipeline.core.findings import Edit, Fact, Finding, Way, build_way
from pipeline.core.list_row import pack_row
from pipeline.core.model import DesignFault, Plaque, Recipient
from pipeline.core.short_codes import hash_values
from pipeline.core.storage.codec import encode_text
from pipeline.core.units import SAME
from pipeline.design_trials import DesignTrials, TrialFailure, find_fitting_size, list_codes
from pipeline.job import Job
from pipeline.layout.fit_findings import LEAST_SHARE
from pipeline.layout.suggestions import MORE_ROWS
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
STEPS = 10
"""Changes made one after the other to one design before it is given up."""
MOST_LARGER = 2.0
"""No line is made larger than this many times its size: it would be another design (common practice, no source)."""
COUNTED = 4
"""Designs of which it is counted how many plaques they leave wrong, at most."""
SIZED = frozenset({kinds.SMALLEST.code, kinds.START_SMALLER.code})
LOOKS = ("tightest", "tracking", "least_width", "breaks", "break_at", "smallest", "cap_height", "face")
"""Keys of a line, the one that changes its look least first (common practice, no source)."""
LEAST = frozenset({"stroke", "land", "shallowest"})
"""Least values of [limits]: what a cutter can't do, it can't do after a change of the limit either."""
PLAQUES = 2_000
"""Most plaques for which whole designs are tried; in a longer list each plaque has only its own advice."""
LINES = 4
"""Most faulty lines for which whole designs are tried in one run: each may set and check the list a hundred times."""


@dataclass(frozen=True, slots=True)
class _Draft:
    """A line with several changes. face: None for its own; lengths in mm. least: the size below which its letters can't
    be cut, as far as it is known."""

    face: str | None
    cap_height: float
    smallest: float
    breaks: int
    tracking: int
    least: float = 0.0


class DesignAdvisor:
    """Finds changes of a design that put it right on all plaques of an order."""

    def __init__(self, job: Job, plaques: Sequence[Plaque], recipients: Sequence[Recipient]) -> None:
        """recipients: of the whole list, which sizes that hold for all of it come from."""
        self.job, self.plaques = job, plaques
        self.trials = DesignTrials(job, plaques, recipients)
        self._given = hash_values(
            [
                job.compute_key(),
                [encode_text(Recipient, recipient) for recipient in recipients],
                [[pack_row(p.recipient.row), encode_text(tuple[Finding, ...], p.findings)] for p in plaques],
            ]
        )

    def advise_all(self, faults: Sequence[DesignFault]) -> tuple[DesignFault, ...]:
        """Advise on the first `LINES` faulty lines; others are marked as not tried."""
        later = (replace(fault, untried=True) for fault in faults[LINES:])
        return (*map(self.advise, faults[:LINES]), *later)

    def advise(self, fault: DesignFault) -> DesignFault:
        """Return the fault with every way that puts it right, or the nearest to one. In a list of more than `PLAQUES`
        plaques it is marked as not tried; where no plaque can be tried, nothing helps."""
        if len(self.plaques) > PLAQUES:
            return replace(fault, untried=True)
        if not len(self.trials):
            return fault
        key = (self._given, encode_text(DesignFault, fault))
        ways: tuple[Way, ...] = self.job.cache.get_or_compute(
            "design", key, tuple[Way, ...], lambda: tuple(self._find_ways(fault))
        )
        return replace(fault, ways=ways)

    def _find_ways(self, fault: DesignFault) -> list[Way]:
        self.trials.begin()
        if fault.line in self.trials.nowhere:
            return []  # there isn't room for even a point: the place is wrong, and no change of lettering helps
        own = [f for p in self.plaques for f in p.findings if f.line == fault.line and f.code in list_codes(fault)]
        part = self.job.folder.order.line[fault.line - 1]
        fitting = all(code.startswith("fit.") for code in list_codes(fault))
        found = self._find_fitting(fault, own) if fitting else [*self._find_cutting(fault, own)]
        ways = sorted(found, key=lambda way: _rate_change(way, part))
        if ways:
            return ways[:WAYS] if fitting else ways
        return self._find_combined(fault)

    # --- single changes ---

    def _find_cutting(self, fault: DesignFault, own: Sequence[Finding]) -> Iterator[Way]:
        """Ways with which a line can be cut on every plaque: a size, the first other proposal that holds, typefaces."""
        for sized in self._find_sizes(own):
            if self.trials.holds(fault, sized.edits):
                yield sized
                break
        for candidate in self._list_proposed(own):
            if self.trials.holds(fault, candidate.edits):
                yield candidate
                break
        yield from self._find_faces(fault)

    def _find_fitting(self, fault: DesignFault, own: Sequence[Finding]) -> list[Way]:
        """Ways with which a line fits on every plaque: of what is proposed for single ones the strongest of each kind,
        and typefaces of the shelf."""
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
            if candidate.code not in held and self.trials.holds(fault, candidate.edits):
                held[candidate.code] = candidate
        if kinds.NARROW_FACE.code not in held:
            for faced in self._find_faces(fault):
                held[faced.code] = faced
                break
        return [*held.values()]

    def _find_sizes(self, own: Iterable[Finding]) -> Iterator[Way]:
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
        others. A smaller least limit is none for a whole design."""
        left_out = {k.code for k in (kinds.LARGER, kinds.BETWEEN, kinds.SMALLER, kinds.SMALLER_FROM, kinds.TRACKING)}
        counted: dict[tuple[Edit, ...], list[Way]] = {}
        spaced: list[Way] = []
        for finding in own:
            for w in finding.ways:
                if w.code == kinds.TRACKING.code:
                    spaced.append(w)
                elif w.edits and w.code not in left_out and not any(_is_least_limit(e) for e in w.edits):
                    counted.setdefault(w.edits, []).append(w)
        out = [max(spaced, key=lambda w: float(dict(w.facts)["tracking"]))] if spaced else []
        return out + [same[0] for same in sorted(counted.values(), key=len, reverse=True)[:OTHERS]]

    def _find_faces(self, fault: DesignFault) -> Iterator[Way]:
        """Typefaces of the shelf with which the line holds at its size: those of the nearest style first, of these
        those whose every letter has the stroke that is needed, the thinner before the thicker."""
        part = self.job.folder.order.line[fault.line - 1]
        if part.cap_height < _get_readable_size(fault):
            return  # right whatever the letters look like
        named = 0
        for name in self._list_faces(fault, part):
            edits = build_face_edits(fault.line, part, name)
            facts: dict[str, Fact] = {"face": name, "size": part.cap_height}
            if self.trials.holds(fault, edits):
                yield build_way(kinds.LINE_FACE, *edits, facts=facts)
                named += 1
            elif spaced := self._find_spacing(fault, edits, part.tracking):
                edit = Edit(table="line", number=fault.line, key="tracking", value=spaced)
                yield build_way(kinds.LINE_FACE_SPACED, *edits, edit, facts={**facts, "tracking": spaced})
                named += 1
            if named == FACES:
                return

    def _list_faces(self, fault: DesignFault, part: LineConfig) -> Iterator[str]:
        """Typefaces of the shelf that may take the place of the line's own, see `_find_faces`; `TRIED` at most."""
        own = self.job.faces[fault.line - 1][0]
        coverage = self.job.coverage
        thinnest = {s.name: min((w for _, w, _ in s.thinnest), default=0.0) for s in coverage.shelf.faces}
        script = {s.name: s.scripts[:1] for s in coverage.shelf.faces}
        far = {s.name: rank_style(own.shelf_face, s) for s in coverage.shelf.faces}
        thin = [c.worst.limit or 0.0 for c in fault.faults if c.code == cut_kinds.STROKE_TOO_THIN.code]
        needed = max(thin, default=0.0) / part.cap_height

        def rank(name: str) -> tuple[int, bool, float, str]:
            return far[name], thinnest[name] < needed, thinnest[name], name

        tried = 0
        letters = self.trials.list_letters(fault.line)
        for name in sorted(coverage.find_faces(letters, single_line=own.single_line), key=rank):
            face = coverage.get_face(name)
            if far[name] >= OTHER_LETTERS or tried == TRIED:
                return
            if face.sha256 == own.sha256 or face.joins > own.joins:
                continue
            if part.face in script and script[name] != script[part.face]:
                continue  # made for another script, whatever Latin letters it includes
            tried += 1
            yield name

    def _find_spacing(self, fault: DesignFault, edits: tuple[Edit, ...], tracking: int) -> int:
        """Return the tracking with which a typeface works whose only fault is letters too close together; 0: there is
        none."""
        if fault.line not in self.trials.list_close_lines(edits):
            return 0
        for wider in TRACKINGS:
            edit = Edit(table="line", number=fault.line, key="tracking", value=wider)
            if wider > tracking and self.trials.holds(fault, (*edits, edit)):
                return wider
        return 0

    # --- several changes together ---

    def _find_combined(self, fault: DesignFault) -> list[Way]:
        """Several changes of the line that put it right together, none of which could be left out: in its own typeface,
        or else in the first of the shelf with which it can be. Where there are none, the nearest.

        Each design is mended by what is wrong with the first plaque that it doesn't put right: larger, where letters
        can't be cut; spaced wider, where they stand too close; in more rows, and then smaller, where it is too long.
        """
        part = self.job.folder.order.line[fault.line - 1]
        if _get_readable_size(fault) > MOST_LARGER * part.cap_height:
            return []  # no other edit makes it readable from that distance
        first = _Draft(
            face=None,
            cap_height=part.cap_height,
            smallest=part.smallest or part.cap_height,
            breaks=part.breaks,
            tracking=part.tracking,
        )
        given_up: list[_Draft] = []
        for face in (None, *self._list_faces(fault, part)):
            draft, failure = self._mend(fault, replace(first, face=face))
            if failure is None:
                draft = self._take_back(fault, draft, first)
                edits = self._build_edits(fault.line, draft)
                return [build_way(kinds.TOGETHER, *edits, facts={"keys": _describe_edits(edits)})]
            given_up.append(draft)
        return self._find_nearest(fault, first, given_up)

    def _mend(self, fault: DesignFault, draft: _Draft) -> tuple[_Draft, TrialFailure | None]:
        """A design changed until it puts all plaques right; else what it came to, and the plaque it failed on."""
        failure: TrialFailure | None = None
        for _ in range(STEPS):
            try:
                failure = self.trials.find_failure(fault, self._build_edits(fault.line, draft))
            except ValueError:
                return draft, failure or self.trials.find_failure(fault, ())
            changed = None if failure is None else self._improve(fault.line, draft, failure)
            if failure is None or changed is None:
                break
            draft = changed
        return draft, failure

    def _improve(self, line: int, draft: _Draft, failure: TrialFailure) -> _Draft | None:
        """The next change of a design, by what is wrong with a plaque; None where nothing is left to be changed."""
        part = self.job.folder.order.line[line - 1]
        if any(f.line != line for f in failure.wrong):
            return None  # it would push other lines out of place
        if any(f.code.startswith("fit.") for f in failure.wrong):
            return self._make_fit(line, draft, failure)
        spacings = [w for f in failure.wrong for w in f.ways if w.code == kinds.TRACKING.code]
        wider = sorted({int(float(dict(w.facts)["tracking"])) for w in spacings} - {*range(draft.tracking + 1)})
        thin = [f for f in failure.wrong if f.measured and f.limit and f.measured < f.limit]
        if len(thin) < len(failure.wrong):
            return None  # too wide or too deep: not tried together with other edits
        cut = [f for f in thin if not f.code.startswith("land.")] or ([] if wider else thin)
        if not cut:
            return replace(draft, tracking=wider[0])
        now = failure.sizes.get(line, draft.cap_height)
        needed = max(now * (f.limit or 0.0) / (f.measured or 1.0) for f in cut)
        needed = self.job.folder.order.unit.round_length(needed, up=True)
        if needed > MOST_LARGER * part.cap_height or needed <= now + SAME:
            return None
        return replace(
            draft,
            cap_height=max(draft.cap_height, needed),
            smallest=max(draft.smallest, needed),
            least=max(draft.least, needed),
        )

    def _make_fit(self, line: int, draft: _Draft, failure: TrialFailure) -> _Draft | None:
        """More rows, then smaller letters, but none that can't be cut."""
        part = self.job.folder.order.line[line - 1]
        if draft.breaks < MORE_ROWS and part.arc is None:
            return replace(draft, breaks=draft.breaks + 1)
        size = max(find_fitting_size(failure, line), draft.least, LEAST_SHARE * part.cap_height)
        size = self.job.folder.order.unit.round_length(size, up=size == draft.least)
        return replace(draft, smallest=size) if size < draft.smallest - SAME else None

    def _take_back(self, fault: DesignFault, draft: _Draft, first: _Draft) -> _Draft:
        """The draft without those of its changes that it works without."""
        fewer: list[_Draft] = []
        for key in ("breaks", "smallest", "tracking", "cap_height"):
            fewer = [replace(draft, **{key: getattr(first, key)})]
            if key == "breaks":
                fewer += [replace(draft, breaks=rows) for rows in range(first.breaks + 1, draft.breaks)]
            for less in fewer:
                if less != draft and less.smallest <= less.cap_height + SAME:
                    edits = self._build_edits(fault.line, less)
                    if edits and self.trials.holds(fault, edits):
                        draft = less
                        break
        return draft

    def _build_edits(self, line: int, draft: _Draft) -> tuple[Edit, ...]:
        """Return what is typed into the order for this design; what is as it was is left out."""
        order = self.job.folder.order
        part, units = order.line[line - 1], order.unit
        edits = list(build_face_edits(line, part, draft.face)) if draft.face else []

        def add(key: str, value: float) -> None:
            edits.append(Edit(table="line", number=line, key=key, value=value))

        if abs(draft.cap_height - part.cap_height) > SAME:
            add("cap_height", units.round_value(draft.cap_height, up=True))
        follows = part.smallest is None and abs(draft.smallest - draft.cap_height) <= SAME
        if not follows and abs(draft.smallest - (part.smallest or part.cap_height)) > SAME:
            add("smallest", units.round_value(draft.smallest, up=draft.smallest >= draft.cap_height - SAME))
        if draft.breaks != part.breaks:
            add("breaks", draft.breaks)
        if draft.tracking != part.tracking:
            add("tracking", draft.tracking)
            if part.tightest < draft.tracking:
                add("tightest", draft.tracking)
        return tuple(edits)

    def _find_nearest(self, fault: DesignFault, first: _Draft, drafts: Sequence[_Draft]) -> list[Way]:
        """The draft that leaves fewest plaques wrong, with what is wrong with them; none where all do no better than
        the design as it is, which is `first`."""

        def count(draft: _Draft) -> dict[str, int]:
            return self.trials.count_wrong(fault, self._build_edits(fault.line, draft))

        most = max(1, min(COUNTED, PLAQUES // 2 // len(self.trials)))
        drafts = [draft for draft in drafts[:most] if self._build_edits(fault.line, draft)]
        tried = [(draft, wrong) for draft in drafts if (wrong := count(draft))]  # none: it is no order
        if not tried:
            return []
        best, wrong = min(tried, key=lambda pair: sum(pair[1].values()))
        for less in (replace(best, breaks=first.breaks), replace(best, tracking=first.tracking)):
            if less != best and self._build_edits(fault.line, less) and (with_it := count(less)):
                best, wrong = (less, with_it) if sum(with_it.values()) <= sum(wrong.values()) else (best, wrong)
        left = sum(wrong.values())
        if not 0 < left < sum(count(first).values()):
            return []
        told = ", ".join(f"{number} {get_kind(code).design or code}" for code, number in wrong.items())
        keys = _describe_edits(self._build_edits(fault.line, best))
        facts: dict[str, Fact] = {"keys": keys, "left": left, "of": len(self.plaques), "told": told}
        return [build_way(kinds.NEAREST, facts=facts)]


def _rate_change(way: Way, part: LineConfig) -> tuple[float, ...]:
    """Rate how much of the design a way changes, the least first; see the top of this file."""
    keys = {edit.key for edit in way.edits if edit.table == "line"}
    elsewhere = any(edit.table != "line" for edit in way.edits)
    sized = bool(keys & {"cap_height", "smallest"})
    size = float(dict(way.facts).get("size", 0.0)) if sized else 0.0
    now = part.cap_height if "cap_height" in keys else part.smallest or part.cap_height
    count = len((keys - {"smallest"}) | ({"cap_height"} if "smallest" in keys else set()))
    looks = max((LOOKS.index(key) if key in LOOKS else len(LOOKS) for key in keys), default=0)
    return (2 if "face" in keys else 1 if elsewhere else 0, count, abs(log(size / now)) if size else 0.0, looks)


def _get_readable_size(fault: DesignFault) -> float:
    """Return the cap height, mm, that can be read from where the line is read, where that is a fault of it; else 0."""
    small = [c.worst.limit or 0.0 for c in fault.faults if c.code == cut_kinds.READ_TOO_SMALL.code]
    return max(small, default=0.0)


def _is_least_limit(edit: Edit) -> bool:
    return edit.table == "limits" and edit.key in LEAST


def _describe_edits(edits: Sequence[Edit]) -> str:
    """`breaks = 2 and smallest = 5.25`; a key that is taken out as `no axes`."""
    said = [_describe_edit(edit) for edit in edits]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def _describe_edit(edit: Edit) -> str:
    if edit.value is None:
        return f"no {edit.key}"
    return f'{edit.key} = "{edit.value}"' if isinstance(edit.value, str) else f"{edit.key} = {edit.value}"
