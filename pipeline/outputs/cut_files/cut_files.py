"""Cut files: one drawing per plaque, written whole, read back, and only then accepted.

What a file holds depends on what would be cut and nothing else: not on the row, the copies or the time. The drawing's
frame is made once an order; a plaque then costs its letters' places.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from pipeline.core.catalogue import file_kinds
from pipeline.core.config.order import OrderFolder
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, build_finding
from pipeline.core.model import Artwork, Blank, Plaque
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.files import read_plain
from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import UnitName, Units
from pipeline.cutting.contours import ContourFitter
from pipeline.geometry.curves import Array
from pipeline.outputs.cut_files.dxf.dxf_reader import DrawingReader, ReadDrawing, UnreadableDrawing
from pipeline.outputs.cut_files.dxf.entities import EntityWriter
from pipeline.outputs.cut_files.dxf.template import DrawingTemplate, join_in_one_line, list_unit_variables
from pipeline.outputs.cut_files.dxf.template_cache import get_drawing_template
from pipeline.outputs.cut_files.dxf.verify import (
    ArtworkDiffers,
    DrawingVerifier,
    ExpectedContents,
    ReadBackFigures,
    verify_drawing,
)
from pipeline.outputs.cut_files.file_contents import (
    ENGRAVE,
    FLOOR,
    GROOVE,
    LINE,
    POCKET,
    REGISTRATION,
    REST,
    ROUGH,
    FileContents,
    PlacedContours,
    fit_curves,
    mirror_chain,
    plan_blank_layers,
    plan_engraved_contours,
    plan_floor_contours,
    plan_followed_contours,
)
from pipeline.outputs.cut_files.file_names import make_cut_name
from pipeline.outputs.cut_files.machining_extras import MachiningExtras
from pipeline.outputs.cut_files.manifest import Manifest
from pipeline.outputs.cut_files.registration_marks import measure_extent, place_marks
from pipeline.outputs.cut_files.vector.exports import VectorExports
from pipeline.outputs.cut_files.vector.vector_paths import FileProperties
from pipeline.outputs.cut_files.vector.vector_paths import Kind as FlatKind

FOLDER = "cut"
"""Of the cut files, in the output folder."""

Side = Literal["front", "back"]
Kind = Literal["dxf", "svg", "pdf"]

_LAYERS = ("ENGRAVE", "LINE", "FLOOR", "ROUGH", "GROOVE", "POCKET", "REST", "REGISTRATION", "EDGE", "ZONE", "KEEP_OUT")
"""In the order of cutting; reference last."""


@dataclass(frozen=True, slots=True)
class ReadBack:
    """The result of reading a plaque's files back: figures by name, and faults."""

    figures: tuple[tuple[str, float], ...]
    findings: tuple[Finding, ...]


class CutFiles:
    """The cut files of one order. `make` once a plaque, `finish` after the last."""

    def __init__(
        self, folder: OrderFolder, blank: Blank, target: Path, version: str, cache: Cache | None = None
    ) -> None:
        """target: the output folder. version: of the tool. cache: where fits of letters and frames of
        drawings are kept between runs.

        CannotRun when the target holds another order's files, or the version or the cutter cannot do what is asked.
        """
        order = folder.order
        part = order.files
        if part.version == "R12" and part.curves == "splines":
            raise CannotRun(
                Fault(
                    where=f"{folder.file}: [files] curves",
                    found="“splines” with version R12, which has none",
                    expected="“arcs” or “lines”, or a later version",
                )
            )
        self.order, self.blank, self.tool_version = order, blank, version
        self.cache = cache or Cache(None)
        self.fits = ContourFitter(part.curves, part.tolerance, cache)
        self._further = MachiningExtras(folder, blank, self.cache)
        self._marks = place_marks(folder, blank)
        self.unit: UnitName = order.units
        self.code = folder.order_id
        self.manifest = Manifest(target / FOLDER, self.code, order.title)
        self.manifest.check()
        names = {ours: part.layers.get(ours, ours) for ours in _LAYERS}
        self._expected = ExpectedContents(part.version, self.unit, names, part.tolerance)
        self._also = VectorExports(part.also, (blank.width, blank.height), names)
        self._frames: dict[Side, DrawingTemplate] = {}
        self._entities: dict[Side, EntityWriter] = {}
        self._plans: LruCache[FileContents] = LruCache(4)
        self._reader = DrawingReader()
        self._judge = DrawingVerifier(self._expected)
        self._static: dict[Side, tuple[tuple[str, tuple[PlacedContours, ...]], ...]] = {}
        self._current: set[str] = set()
        self._begun = False
        self.findings: tuple[Finding, ...] = ()
        """What was found in the folder when the first file was written."""

    # --- what a run calls ---

    def make(self, plaque: Plaque) -> Plaque:
        """Writes the plaque's files, reads them back and compares them: the plaque with its files' names and figures,
        or stopped, without files. A plaque that is stopped already gets none."""
        if not plaque.fingerprint or plaque.state == "stopped" or plaque.artwork is None:
            return plaque
        names = self.write(plaque)
        proved = self.prove(plaque)
        if proved.findings:
            for name in names:
                self.manifest.remove(Path(name).name)
            stopped = tuple(replace(f, row=plaque.recipient.row, cell=plaque.recipient.cell) for f in proved.findings)
            return replace(plaque, findings=(*stopped, *plaque.findings), fingerprint="", cut_file="", back_file="")
        front, *back = self.list_names(plaque)
        made = replace(
            plaque,
            cut_file=front,
            back_file="".join(back),
            also_files=self.list_other_names(plaque),
            proved=(*plaque.proved, *proved.figures),
        )
        self.adopt(made)
        return made

    def render(self, plaque: Plaque) -> Mapping[str, bytes]:
        """The files of a plaque as the order makes them now, without writing: path below the output folder -> bytes."""
        if plaque.artwork is None:
            return {}
        return {
            name: self.write_drawing(plaque, side) if kind == "dxf" else self.write_flat(plaque, side, kind)
            for side, kind, name in self.list_files(plaque)
        }

    def drop(self) -> None:
        """No plaque has a file after all: `finish` then removes every one."""
        self._current.clear()

    def finish(self) -> tuple[str, ...]:
        """Clear away files of earlier runs after the last plaque, but none that somebody changed; return those
        removed."""
        self.begin()
        return tuple(f"{FOLDER}/{name}" for name in self.manifest.finish(self._current).removed)

    # --- what several processes and a later run need ---

    def join(self) -> None:
        """Prepare a process that writes into a folder another one begins and finishes."""
        self._begun = True

    def hash_files(self, plaque: Plaque) -> dict[str, str]:
        """sha256 of the plaque's files as this process wrote them, by name in their folder."""
        return {name: self.manifest.written[name] for name in _list_own_names(plaque)}

    def holds(self, hashes: Mapping[str, str]) -> bool:
        """Return whether these files lay in the folder, with these very bytes, when this run began."""
        return all(self.manifest.found.get(name) == digest for name, digest in hashes.items())

    def adopt(self, plaque: Plaque, hashes: Mapping[str, str] | None = None) -> None:
        """The files of a plaque made by another process, or by an earlier run, are this run's too. hashes: of files
        that another process has just written."""
        self._current.update(_list_own_names(plaque))
        self.manifest.written.update(hashes or {})

    def begin(self) -> None:
        """Makes the folder ready, once a run; `make` sees to it where nobody else has."""
        if self._begun:
            return
        aside = self.manifest.begin()
        self.findings = tuple(
            build_finding(file_kinds.NOT_OURS, facts={"file": f"{FOLDER}/{name}", "aside": f"{FOLDER}/{now}"})
            for name, now in aside
        )
        self._begun = True

    # --- once a plaque ---

    def list_sides(self, plaque: Plaque) -> tuple[Side, ...]:
        """The sides that have a file: the front always, the back when something is lettered there."""
        lines = plaque.artwork.parts if plaque.artwork else ()
        return ("front", "back") if any(line.side == "back" for line in lines) else ("front",)

    def list_names(self, plaque: Plaque) -> tuple[str, ...]:
        """Names of the plaque's files relative to the output folder, front first."""
        name = plaque.name
        unit = self.unit if self._expected.version == "R12" else ""
        return tuple(
            f"{FOLDER}/{make_cut_name(name, plaque.fingerprint, side=side, unit=unit)}"
            for side in self.list_sides(plaque)
        )

    def list_other_names(self, plaque: Plaque) -> tuple[str, ...]:
        """Names of the SVG and PDF files that go with the plaque's drawings, likewise."""
        return tuple(name for _, kind, name in self.list_files(plaque) if kind != "dxf")

    def list_files(self, plaque: Plaque) -> tuple[tuple[Side, Kind, str], ...]:
        """Side, kind and name of every file of the plaque, the drawing of each side before what goes with it."""
        out: list[tuple[Side, Kind, str]] = []
        for side, name in zip(self.list_sides(plaque), self.list_names(plaque), strict=True):
            stem = name.removesuffix(".dxf").removesuffix(f"-{self.unit}")
            out += [(side, "dxf", name), *((side, kind, f"{stem}.{kind}") for kind in self._also.kinds)]
        return tuple(out)

    def write(self, plaque: Plaque) -> tuple[str, ...]:
        """Writes the plaque's files; their names relative to the output folder, the drawing of the front first.

        The plaque needs artwork and a fingerprint. CannotRun when the folder cannot be written.
        """
        self.begin()
        for name, data in self.render(plaque).items():
            self.manifest.add(Path(name).name, data)
        return tuple(name for *_, name in self.list_files(plaque))

    def write_drawing(self, plaque: Plaque, side: Side) -> bytes:
        """The bytes of one file."""
        sheet = self._get_template(side)
        plan = self.plan_file(plaque, side)
        text, handle = self._entities[side].write(plan.layers, plan.lines, sheet.first_handle)
        return sheet.render(self._list_comments(plaque, side), [plaque.fingerprint], text, handle)

    def write_flat(self, plaque: Plaque, side: Side, kind: FlatKind) -> bytes:
        """The bytes of one SVG or PDF file."""
        order = self.order
        said = FileProperties(
            fingerprint=plaque.fingerprint,
            order=self.code,
            title=order.title,
            client=order.client,
            side=_SEEN[side],
            tool=f"plaques {self.tool_version}",
            text=plaque.text,
        )
        return self._also.write_drawing(kind, self.plan_file(plaque, side), said)

    def plan_file(self, plaque: Plaque, side: Side) -> FileContents:
        """Plan one file, in the order of cutting. Writing it and reading it back share the plan."""
        artwork = plaque.artwork
        if artwork is None:
            raise ValueError("a plaque without artwork has no cut file")
        return self._plans.get_or_compute((artwork, side), lambda: self._plan_artwork(artwork, side))

    def _plan_artwork(self, artwork: Artwork, side: Side) -> FileContents:
        if side not in self._static:
            self._static[side] = plan_blank_layers(self.blank, self.fits, side)
        static = dict(self._static[side])
        layers: list[tuple[str, tuple[PlacedContours, ...]]] = [
            (ENGRAVE, plan_engraved_contours(artwork, self.fits, side))
        ]
        if followed := plan_followed_contours(artwork, self.fits, side):
            layers.append((LINE, followed))
        extras = self._further.plan(artwork, side)
        if extras.floor:
            layers.append((FLOOR, plan_floor_contours(extras.floor, self.fits)))
        if side == "front" and POCKET in static:
            layers.append((POCKET, static.pop(POCKET)))
        if extras.rest:
            layers.append((REST, (PlacedContours(fit_curves(extras.rest, self.fits)),)))
        if self._marks:
            seen = [c if side == "front" else mirror_chain(c, self.blank.width) for c in self._marks]
            layers.append((REGISTRATION, (PlacedContours(fit_curves(seen, self.fits)),)))
        layers += static.items()
        return FileContents(tuple(layers), extras.grooves, extras.roughing)

    def prove(self, plaque: Plaque) -> ReadBack:
        """Reads the plaque's files back and compares them with its artwork. A file that differs is removed."""
        figures: dict[str, float] = {}
        findings: list[Finding] = []
        for side, kind, name in self.list_files(plaque):
            file, prefix = Path(name).name, "" if side == "front" else "back_"
            try:
                data = read_plain(self.manifest.folder / file)
                plan = self.plan_file(plaque, side)
                if kind == "dxf":
                    drawing = self._reader.read(data)
                    seen = self._judge.verify(drawing, plan)
                    if plan.grooves and plaque.artwork is not None:
                        self._further.hold_against_sweep(self._list_grooves(drawing), plaque.artwork, side)
                    figures.update(_name_figures(seen, len(data), prefix))
                else:
                    figures[f"{prefix}{kind}_off"] = self._also.prove(kind, data, plan, plaque.fingerprint)
                    figures[f"{prefix}{kind}_bytes"] = float(len(data))
            except (OSError, UnreadableDrawing, ArtworkDiffers) as error:
                self.manifest.remove(file)
                findings.append(
                    build_finding(file_kinds.READ_BACK_DIFFERS, facts={"file": name, "difference": str(error)})
                )
        return ReadBack(tuple(sorted(figures.items())), tuple(findings))

    def _list_grooves(self, drawing: ReadDrawing) -> list[Array]:
        one = Units(self.unit).mm
        return [curve.points * one for curve in drawing.curves if curve.layer == self.get_layer_name(GROOVE)]

    def matches(self, drawing: ReadDrawing, plaque: Plaque, side: Side) -> bool:
        """Return whether a drawing that was read is that of this side of the plaque, to the rounding of its
        coordinates."""
        try:
            verify_drawing(drawing, self.plan_file(plaque, side), self._expected)
        except ArtworkDiffers:
            return False
        return True

    def get_layer_name(self, ours: str) -> str:
        """A layer's name in the files."""
        return self._expected.names[ours]

    # --- parts ---

    def _get_template(self, side: Side) -> DrawingTemplate:
        if side not in self._frames:
            names = self._expected.names
            used = {layer for layer, _ in plan_blank_layers(self.blank, self.fits, side)} | {ENGRAVE}
            used |= {LINE} if any(part.cut == "line" and part.side == side for part in self.order.artwork) else set()
            used |= {GROOVE} if self.order.files.grooves else set()
            used |= {ROUGH} if self._further.step is not None else set()
            used |= {FLOOR} if self._further.has_floor else set()
            used |= {REST} if self._further.rest and side == "front" else set()
            used |= {REGISTRATION} if self._marks else set()
            one = Units(self.unit).mm
            x0, y0, x1, y1 = measure_extent(self._marks, self.blank)
            self._frames[side] = get_drawing_template(
                self._expected.version,
                self.unit,
                ((x1 - x0) / one, (y1 - y0) / one),
                [(layer, names[layer]) for layer in _LAYERS if layer in used],
                {
                    "Fingerprint": None,
                    "Order": self.code,
                    "Title": self.order.title,
                    "Client": self.order.client,
                    "Side": _SEEN[side],
                    "Tool": f"plaques {self.tool_version}",
                },
                corner=((x0 if side == "front" else self.blank.width - x1) / one, y0 / one),
                cache=self.cache,
            )
            owner = self._frames[side].owner
            self._entities[side] = EntityWriter(self._expected.version, self.unit, owner, names)
        return self._frames[side]

    def _list_comments(self, plaque: Plaque, side: Side) -> list[str]:
        """List what a person reads who opens the file as text. The version's code page is seen to by the frame."""
        said = [
            f"plaques {self.tool_version}: fingerprint {plaque.fingerprint}, order {self.code}, {_SEEN[side]}",
            f"unit {Units(self.unit).name}, curves {self.order.files.curves} within {self.order.files.tolerance:g} mm",
            *list_unit_variables(self.unit, self._expected.version),
            join_in_one_line(f"{self.order.title}, {self.order.client}"),
            *(["registration marks round the blank: front and back coincide, turned over"] if self._marks else []),
        ]
        for figure in plaque.artwork.figures if plaque.artwork else ():
            depth = next((p.shape.depth for row in figure.rows for p in row.pieces if p.shape.depth), None)
            if figure.cut == "line" and figure.side == side and depth is not None:
                said.append(
                    join_in_one_line(f"layer LINE: “{figure.text}”, followed {Units(self.unit).show(depth)} deep")
                )
        return said + [join_in_one_line(text) for text in plaque.text if text.strip()]


_SEEN: dict[Side, str] = {
    "front": "seen from the front",
    "back": "seen from the back, turned over sideways about the upright middle line",
}


def _list_own_names(plaque: Plaque) -> list[str]:
    return [name.rpartition("/")[2] for name in (plaque.cut_file, plaque.back_file, *plaque.also_files) if name]


def _name_figures(seen: ReadBackFigures, size: int, prefix: str) -> dict[str, float]:
    return {
        f"{prefix}deviation": seen.deviation,
        f"{prefix}vertices": float(seen.vertices),
        f"{prefix}contours": float(seen.contours),
        f"{prefix}area": seen.area,
        f"{prefix}bytes": float(size),
    } | {f"{prefix}{name}": value for name, value in seen.grooves}
