"""One order made ready: everything that is the same for all its plaques, and the making of one plaque."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace

from pipeline.artwork.client_artwork import NO_ARTWORK, ClientArtwork
from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.plaque_checks import CheckResults, check_all
from pipeline.checks.stroke_check import compute_growth
from pipeline.core.catalogue import face_kinds, file_kinds, fit_kinds
from pipeline.core.catalogue.cut_kinds import LAND_TOO_THIN
from pipeline.core.config.order import LineConfig, Order, OrderFolder
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Fact, Finding, Severity, build_finding
from pipeline.core.fingerprint import Fingerprints, list_cutting_values
from pipeline.core.measured_values import LAND
from pipeline.core.model import Artwork, Blank, LineMeasure, Plaque, Recipient, SetFigure, Shape, ShapedRow
from pipeline.core.short_codes import hash_values
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.codec import encode_text
from pipeline.core.storage.lru_cache import LruCache
from pipeline.cutting.cutters import CutLimits, Cutter, list_resolved_values, resolve_cutter
from pipeline.figures import OrderFigures
from pipeline.layout.block import LineSetting
from pipeline.layout.copy_fitting import list_width_steps
from pipeline.layout.fit_findings import list_fit_findings
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.size_policies import SizePolicies
from pipeline.layout.typesetter import LineResult, LineText, Typesetter
from pipeline.lettering.coverage import Coverage, check_faces, check_line
from pipeline.lettering.font_face import Shelf, Typeface, open_face
from pipeline.lettering.shaping import shape_row


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Lines of a plaque, set and checked. findings: of setting and checks."""

    tried: tuple[LineResult, ...]
    artwork: Artwork
    measures: tuple[LineMeasure, ...]
    findings: tuple[Finding, ...]


@dataclass(slots=True, eq=False)
class Job:
    """What setting and checking a plaque of this order needs."""

    folder: OrderFolder
    blank: Blank
    faces: list[list[Typeface]]
    coverage: Coverage
    cutter: Cutter
    limits: CutLimits
    setter: Typesetter
    measures: GlyphMetrics
    fingerprints: Fingerprints
    resolved: tuple[tuple[str, str | float], ...]  # see `cutters.resolved_words`
    sizes: SizePolicies
    cache: Cache
    stems: dict[str, Shape]  # capital I by typeface, where the order states a reading distance
    figures: OrderFigures
    findings: tuple[Finding, ...]  # of the whole order
    notes: LruCache[tuple[Finding, ...]] = field(default_factory=LruCache)  # findings of lines, by how they are set

    def compute_key(self) -> str:
        """Hash of all that plaques are made from besides their recipients, the sizes that hold for the whole order, and
        the tool itself."""
        return hash_values(
            [
                self.folder.order.model_dump(mode="json"),
                self.folder.sha256,
                self.folder.shop_sha256,
                encode_text(Blank, self.blank),
                encode_text(ClientArtwork, self.figures.client),
                [[face.identity, face.sha256] for faces in self.faces for face in faces],
                *self.coverage.shelf.own.list_hashes(),
            ]
        )

    def make_plaque(self, recipient: Recipient) -> Plaque:
        """Set and check one plaque; it has a fingerprint when nothing stops it."""
        findings = list(recipient.findings)
        if _is_stopped(findings):  # there is no text to set
            return Plaque(recipient=recipient, text=(), artwork=None, findings=tuple(_sort_worst_first(findings)))
        texts, said = compose_line_texts(self.folder.order, recipient)
        figures = self.figures.get_for_plaque(recipient)
        seen = self.see(texts, figures.figures)
        findings += [*said, *figures.findings, *seen.findings]
        text = tuple(t.text.words for t in seen.tried)
        return Plaque(
            recipient=recipient,
            text=text,
            artwork=seen.artwork,
            measures=seen.measures,
            figure_measures=figures.measures,
            findings=tuple(_sort_worst_first(findings)),
            fingerprint="" if _is_stopped(findings) else self.fingerprints.compute(text, seen.artwork),
            sizes=self.sizes.compare_sizes([(t.text, t.setting) for t in seen.tried]),
        )

    def make_plaques(self, recipients: Iterable[Recipient]) -> Iterator[Plaque]:
        """Set and check plaques one by one, each when it is asked for; one that the tool fails on is passed over, and
        told when it is made."""
        for recipient in recipients:
            with suppress(Exception):
                yield self.make_plaque(recipient)

    def see(self, texts: Sequence[LineText], figures: tuple[SetFigure, ...] = (), *, advise: bool = True) -> Seen:
        """These lines set and checked beside these figures. advise: say of what does not fit what would, and what stays
        in the corners; a trial asks for neither."""
        self.setter.figures = figures
        first = self._check_tried(self.setter.set_lines(texts), corners=advise)
        tried, artwork, checked = self._open_up(texts, *first, corners=advise)
        findings = [f for t in tried for f in self._find_lettering_faults(t)]
        findings += list_fit_findings(self.setter, texts, [t for t in tried if not t.missing], advise=advise)
        findings += checked.findings
        return Seen(tried=tried, artwork=artwork, measures=checked.measures, findings=tuple(findings))

    def _check_tried(
        self, tried: tuple[LineResult, ...], *, corners: bool
    ) -> tuple[tuple[LineResult, ...], Artwork, CheckResults]:
        """Lines as they were set, their artwork, and what the checks say of those that fit."""
        artwork = replace(self.setter.build_artwork(tried), figures=self.setter.figures)
        fitting = replace(artwork, lines=tuple(line for line, t in zip(artwork.lines, tried, strict=True) if t.setting))
        order = self.folder.order
        checked = check_all(
            fitting, self.blank, self.cutter, self.limits, self.measures, order, self.stems, corners=corners
        )
        return tried, artwork, checked

    def _open_up(
        self,
        texts: Sequence[LineText],
        tried: tuple[LineResult, ...],
        artwork: Artwork,
        checked: CheckResults,
        *,
        corners: bool,
    ) -> tuple[tuple[LineResult, ...], Artwork, CheckResults]:
        """The same with lines spaced wider where neighbours alone stand too close and `loosest` allows it: by the least
        whole thousandth of an em with which the land holds at the size the line has."""
        setter = self.setter
        for number in _find_narrowest_neighbours(checked):
            part = self.folder.order.line[number - 1]
            if any(face.joins for face in self.faces[number - 1]):
                continue
            before = {t.text.line: t.setting for t in tried}
            allowed = {f for f in map(_identify_stop, checked.findings) if f is not None}
            own = (LAND_TOO_THIN.code, number)
            best = None
            low, over = part.tracking, part.loosest_tracking + 1  # known to be too little; more than the order allows
            tracking = part.loosest_tracking
            while low < tracking < over:
                opened = part.model_copy(update={"tracking": tracking, "tightest": tracking})
                with_it = setter.replace_line(number, opened)
                again = self._check_tried(with_it.set_lines(texts), corners=corners)
                stops = {f for f in map(_identify_stop, again[2].findings) if f is not None}
                if not (stops - {own} <= allowed and all(_are_alike(before[t.text.line], t.setting) for t in again[0])):
                    over = tracking  # too wide for its place, but less may do
                elif own not in stops:
                    best, over = (with_it, again), tracking
                elif best is None and tracking == part.loosest_tracking:
                    break
                else:
                    low = tracking
                tracking = (low + over) // 2
            if best is not None:
                setter, (tried, artwork, checked) = best
        return tried, artwork, checked

    def change_order(self, order: Order) -> Job:
        """Return the job with another order for the same blank, where lines, cutter, limits or finish differ; what is
        ready is shared. CannotRun as `prepare`."""
        own, folder = self.folder.order, self.folder.model_copy(update={"order": order})
        faces = [
            used if _is_same_face(old, new) else _load_faces(number, new, folder, self.coverage, self.cache)
            for number, (old, new, used) in enumerate(zip(own.line, order.line, self.faces, strict=True), 1)
        ]
        cutter, limits = resolve_cutter(order, self.blank.thickness)
        _require_line_width(folder, faces, cutter)
        setter = self.setter.change_order(order, faces, compute_growth(order.finish, cutter))
        figures = self.figures.change_order(folder, setter, cutter, limits)
        return replace(
            self,
            folder=folder,
            faces=faces,
            cutter=cutter,
            limits=limits,
            setter=setter,
            stems=_list_stems(setter) if order.reading.distance is not None else {},
            figures=figures,
            notes=LruCache(),
        )

    def _find_lettering_faults(self, t: LineResult) -> tuple[Finding, ...]:
        cap_height = t.setting.cap_height if t.setting else 0.0
        return self.notes.get_or_compute(
            (t.text.line, t.text.words, t.placed, cap_height),
            lambda: check_line(
                t.text.line,
                t.text.words,
                faces=self.setter.get_faces_at(t.text.line, t.setting.width if t.setting else None),
                rows=[placed.row for placed in t.placed],
                coverage=self.coverage,
                cap_height=cap_height,
                part=self.folder.order.line[t.text.line - 1],
            ),
        )

    def shape_captions(self, texts: Iterable[str]) -> dict[str, ShapedRow]:
        """Texts shaped in whatever face of the order or the shelf has them, for showing them on papers."""
        own = [face for faces in self.faces for face in faces]
        out = {}
        for text in sorted(texts):
            having = [face for face in own if face.covers(text)]
            if having := having or [self.coverage.get_face(name) for name in self.coverage.find_faces(text)[:1]]:
                out[text] = shape_row(having[:1], text)
        return out

    def keep(self) -> None:
        """Keep what was measured for later runs; a folder that cannot be written costs only the keeping."""
        self.cache.flush()


def _find_narrowest_neighbours(checked: CheckResults) -> list[int]:
    """The lines whose land is too thin, and thinnest between two neighbours."""
    thin = {f.line for f in checked.findings if f.code == LAND_TOO_THIN.code}
    kinds = {m.line: found.kind for m in checked.measures if (found := m.get(LAND))}
    return [line for line, kind in kinds.items() if line in thin and kind == "neighbour"]


def _identify_stop(finding: Finding) -> tuple[str, int | None] | None:
    return (finding.code, finding.line) if finding.severity is not Severity.NOTE else None


def _are_alike(one: LineSetting | None, other: LineSetting | None) -> bool:
    """Return whether two settings differ in nothing but their spacing."""
    if one is None or other is None:
        return one is other
    return (one.cap_height, one.rows, one.width) == (other.cap_height, other.rows, other.width)


def _is_stopped(findings: Sequence[Finding]) -> bool:
    return any(f.severity is Severity.STOP for f in findings)


def _sort_worst_first(findings: list[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda f: f.severity.rank)


def _is_same_face(one: LineConfig, other: LineConfig) -> bool:
    return one is other or all(getattr(one, key) == getattr(other, key) for key in _OF_A_FACE)


_OF_A_FACE = ("face", "also", "axes", "features", "least_width")
"""Keys of a [[line]] that decide what its faces are opened with."""


def _load_faces(number: int, part: LineConfig, folder: OrderFolder, coverage: Coverage, cache: Cache) -> list[Typeface]:
    """The face of a line, and the further ones it may use."""
    where = f"{folder.file.name}: [[line]] no. {number}, face"
    first = open_face(
        part.face,
        folder.folder,
        axes=part.axes,
        features=part.features,
        shelf=coverage.shelf,
        cache=cache,
        where=where,
    )
    _require_width_allowed(first, part, where.removesuffix("face") + "least_width")
    also = [open_face(name, folder.folder, shelf=coverage.shelf, cache=cache, where=where) for name in part.also]
    return [first, *also]


def _require_width_allowed(face: Typeface, part: LineConfig, where: str) -> None:
    """CannotRun when the line's letters are to be narrowed and its face cannot be."""
    if part.least_width is None:
        return
    if face.widths is None:
        raise CannotRun(
            Fault(
                where=where,
                found=f"{face.title} has no width axis (`wdth`): its letters have one width",
                remedy="leave least_width out, or choose a variable font with that axis",
            )
        )
    least, designed = face.widths
    if not least <= part.least_width <= designed:
        raise CannotRun(
            Fault(
                where=where,
                found=f"{part.least_width:g}",
                expected=f"{least:g} to {designed:g}: what the face has, and the width it is designed with",
                remedy="change it",
            )
        )


def _load_all_faces(folder: OrderFolder, coverage: Coverage, cache: Cache) -> list[list[Typeface]]:
    """The faces of every line. CannotRun tells of all that cannot be opened, not only of the first."""
    faces: list[list[Typeface]] = []
    faults: list[Fault] = []
    for number, part in enumerate(folder.order.line, 1):
        try:
            faces.append(_load_faces(number, part, folder, coverage, cache))
        except CannotRun as problem:
            faults += problem.faults
    if faults:
        raise CannotRun(faults)
    return faces


def _require_line_width(folder: OrderFolder, faces: Sequence[Sequence[Typeface]], cutter: Cutter) -> None:
    """CannotRun where a V-bit is to follow letters of one line: these have no width that its depth follows from, and
    the width of what it cuts follows from a depth that nothing states."""
    if not cutter.cuts_grooves:
        return
    faults = [
        Fault(
            where=f"{folder.file.name}: [[line]] no. {number}, {'also' if place else 'face'}",
            found=f"{face.title} has letters of one line: nothing says how deep {cutter.name} goes, and so how wide it "
            "cuts",
            expected="a typeface whose strokes have a width, or a cutter whose line has one: a point, a laser, an end "
            "mill",
        )
        for number, used in enumerate(faces, 1)
        for place, face in enumerate(used)
        if face.single_line
    ]
    if faults:
        remedy = (
            'for a bit that is run at one depth, write kind = "end-mill" into [cutter], the width it cuts there as '
            "diameter, and that depth as `deepest` into [limits]"
        )
        raise CannotRun([*faults[:-1], replace(faults[-1], remedy=remedy)])


def _find_hollow_faces(faces: Sequence[Sequence[Typeface]], cutter: Cutter) -> Iterator[Finding]:
    """Find the typefaces with areas that a point only follows, each once. What a laser does with areas is a setting of
    its machine."""
    if not cutter.follows_lines or cutter.burns:
        return
    told = set[str]()
    for line, used in enumerate(faces, 1):
        for face in used:
            if not face.single_line and face.title not in told:
                told.add(face.title)
                facts: dict[str, Fact] = {"line": line, "cutter": cutter.name, "face": face.title}
                yield build_finding(face_kinds.HOLLOW, line=line, facts=facts)


def prepare(folder: OrderFolder, blank: Blank, cache: Cache, client: ClientArtwork = NO_ARTWORK) -> Job:
    """Everything per order, once. client: its drawings."""
    order = folder.order
    coverage = Coverage(Shelf(own=folder.list_own_fonts()), cache)
    faces = _load_all_faces(folder, coverage, cache)
    cutter, limits = resolve_cutter(order, blank.thickness)
    _require_line_width(folder, faces, cutter)
    measures = GlyphMetrics(cache)
    setter = Typesetter(order, blank, faces, coverage, compute_growth(order.finish, cutter), cache)
    resolved = list_resolved_values(order, cutter, limits)
    figures = OrderFigures(folder, blank, client, setter, cutter, limits, measures)
    findings = [f for n, used in enumerate(faces, 1) for f in check_faces(n, used)]
    findings += _find_hollow_faces(faces, cutter)
    findings += figures.findings
    if order.files.version == "R12" and order.units == "in":
        findings.append(build_finding(file_kinds.NO_UNIT))
    return Job(
        folder=folder,
        blank=blank,
        faces=faces,
        coverage=coverage,
        cutter=cutter,
        limits=limits,
        setter=setter,
        measures=measures,
        fingerprints=Fingerprints(blank, list_cutting_values(order, resolved)),
        resolved=resolved,
        sizes=SizePolicies(setter),
        cache=cache,
        stems=_list_stems(setter) if order.reading.distance is not None else {},
        figures=figures,
        findings=tuple(findings),
    )


def _list_stems(setter: Typesetter) -> dict[str, Shape]:
    """The capital I of the first face of every line, at each width it may be narrowed to, by the face's identity; faces
    of single lines have no stem."""
    rows = []
    for number, part in enumerate(setter.order.line, 1):
        face = setter.faces[number - 1][0]
        narrower = list_width_steps(face.widths[1], part.least_width) if face.widths and part.least_width else ()
        rows += [shape_row(setter.get_faces_at(number, width)[:1], "I") for width in (None, *narrower)]
    return {row.face: row.shapes[0].shape for row in rows if row.shapes and not row.shapes[0].shape.single_line}


def find_common_sizes(job: Job, recipients: Sequence[Recipient]) -> tuple[dict[int, float], tuple[Finding, ...]]:
    """Sizes of lines with same_size = "all", from the whole list, and which row set them."""
    if all(line.same_size != "all" for line in job.folder.order.line):
        return {}, ()
    able = [r for r in recipients if not _is_stopped(r.findings)]
    everybody: list[list[LineText]] = [compose_line_texts(job.folder.order, r)[0] for r in able]
    figures = [job.figures.get_for_plaque(r).figures for r in able]
    sizes, said = {}, []
    for line, (size, by) in job.setter.find_common_sizes(everybody, figures).items():
        sizes[line] = size
        if by >= 0:
            text = next((t.text for t in everybody[by] if t.line == line), "")
            designed = job.folder.order.line[line - 1].cap_height
            facts: dict[str, str | int | float] = {"text": text, "cap_height": size, "designed": designed}
            said.append(
                build_finding(
                    fit_kinds.ONE_SIZE,
                    line=line,
                    row=able[by].row,
                    cell=able[by].cell,
                    measured=size,
                    limit=designed,
                    unit="mm",
                    facts=facts,
                )
            )
    return sizes, tuple(said)
