"""The parts of the comparison. Each yields lines of the table: what, wanted, found."""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.bench.children import ROOT, Desk, Ran
from tests.bench.orders import names, write_order

TENTH = "every tenth"
FEW = 10  # plaques of the order whose time counts as start-up
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&"
FACES = ("noto-sans", "eb-garamond", "bodoni-moda", "great-vibes", "roboto-slab")


@dataclass(frozen=True)
class Sizes:
    """How much is measured."""

    many: int  # plaques of the orders for all comparisons
    great: int  # names in the large order; 0 leaves it out
    sample: int  # names done with general-purpose libraries
    times: int  # repetitions of short measurements
    faces: tuple[str, ...]  # typefaces whose letters are measured without a cache


FULL = Sizes(many=1000, great=10_000, sample=12, times=5, faces=FACES)
QUICK = Sizes(many=100, great=0, sample=3, times=3, faces=FACES[:2])


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    what: str
    wanted: str
    found: str


class Bench:
    """One comparison. Runs that several parts need are done once."""

    def __init__(self, desk: Desk, sizes: Sizes) -> None:
        self.desk, self.sizes = desk, sizes
        self._ran: dict[tuple[str, int, int], Ran] = {}
        self._filled: dict[str, Ran] = {}

    def order(self, kind: str, count: int) -> Path:
        """Return an order folder. Kind "every tenth": every tenth name of a roman order ten times as long."""
        folder = self.desk.folder / f"{kind}-{count}"
        if not folder.exists():
            tenth = kind == TENTH
            write_order(folder, names(10 * count)[::10] if tenth else names(count), "roman" if tenth else kind)
        return folder

    def warm(self, kind: str, count: int, workers: int = 1) -> Ran:
        """Measure a whole run with cached letters and no cached plaques, as for the next order in the same
        typefaces. The better of two: a file system that was just cleaned up creates a thousand files slowly."""
        key = (kind, count, workers)
        if key not in self._ran:
            filled = "roman" if kind == TENTH else kind
            self.fill(filled)
            tries = []
            for again in ("", "-again"):
                self.desk.restore(filled)
                out = self.desk.folder / f"out-{kind}-{count}-{workers}{again}"
                tries.append(self.run(kind, count, workers, out))
            self._ran[key] = min(tries, key=lambda ran: ran.wall)
        return self._ran[key]

    def run(self, kind: str, count: int, workers: int, out: Path) -> Ran:
        """Measure a whole run with the current cache."""
        return self.desk.plaques("run", self.order(kind, count), "--out", out, "--workers", str(workers))

    def fill(self, kind: str) -> Ran:
        """Cache the letters of a kind of order, from scratch, by running as many other names."""
        if kind not in self._filled:
            many = self.sizes.many
            other = write_order(self.desk.folder / f"{kind}-other", names(2 * many)[many:], kind)
            self.desk.forget()
            self._filled[kind] = self.desk.plaques("run", other)
            self.desk.put_by(kind)
        return self._filled[kind]

    def each(self, kind: str, count: int, workers: int = 1) -> tuple[float, float]:
        """Return wall-clock and processor time of one plaque after start-up, ms."""
        whole, start = self.warm(kind, count, workers), self.warm("roman" if kind == TENTH else kind, FEW, workers)
        more = (count - FEW) / 1000
        return (whole.wall - start.wall) / more, (whole.cpu - start.cpu) / more

    # --- parts ---

    def startup(self) -> Iterator[Line]:
        """Measure the commands a user waits for."""
        few, times = self.order("roman", FEW), self.sizes.times
        self.desk.plaques("check", few)
        for what, limit, words in (
            ("`plaques --help`", 0.2, ("--help",)),
            ("`plaques explain CODE`", 0.3, ("explain", "fit.too-long")),
            (f"`plaques check`, {FEW} rows, letters kept", 1.0, ("check", str(few))),
        ):
            ran = self.desk.best(times, *words)
            yield Line(what, f"< {limit} s", f"{ran.wall:.2f} s (processor {ran.cpu:.2f} s)")

    def roman(self) -> Iterator[Line]:
        """Measure a whole run in a roman typeface."""
        many = self.sizes.many
        wall, cpu = self.each("roman", many)
        # The target was 6 ms before reportlab drew the papers: a card with its fields took it 2.4 ms in a trial.
        yield Line(f"{many} plaques, roman face, one worker", "≤ 8 ms a plaque", f"{wall:.1f} ms ({cpu:.1f})")
        yield Line(f"start-up, a run of {FEW}", "", _seconds(self.warm("roman", FEW)))
        yield Line(f"{many} of other names, nothing kept", "", _seconds(self.fill("roman")))

    def general(self) -> Iterator[Line]:
        """Measure the same names with general-purpose libraries."""
        from tests.bench import general_way

        face = general_way.use_font(ROOT / "fonts" / "roboto-slab" / _font_file("roboto-slab"))
        many, target = self.sizes.many, self.desk.folder / "general.dxf"
        some = names(many)[:: max(1, many // self.sizes.sample)][: self.sizes.sample]
        taken = [_cpu(lambda name=name: general_way.one_name(name, face, target)) for name in some]
        general = statistics.mean(taken) * 1000
        _, cpu = self.each("roman", many)
        yield Line("the general way, a name", "", f"{general:.0f} ms of processor time")
        yield Line("… times a plaque of ours", "≥ 300", f"{general / cpu:.0f}")

    def reference(self) -> Iterator[Line]:
        """Write the same bytes with the plainest formatter."""
        from pipeline import VERSION
        from pipeline.order_inputs import read_inputs
        from pipeline.order_state import check_plaques
        from pipeline.outputs.cut_files.cut_files import CutFiles
        from tests.bench import plain_format

        many = self.sizes.many
        self.warm("roman", many)
        read = read_inputs(self.order("roman", many), fresh=True)
        plaques = [p for p in check_plaques(read).plaques if p.fingerprint]
        writer = CutFiles(read.folder, read.blank, self.desk.folder / "reference", VERSION)
        ready = [plain_format.prepared(writer, plaque) for plaque in plaques]
        out = self.desk.folder / f"out-roman-{many}-1"
        same = sum(plain_format.same_bytes(writer, plaque, out) for plaque in plaques)
        if same != len(plaques):
            raise RuntimeError(f"{len(plaques) - same} of {len(plaques)} files are not the reference's")
        with tempfile.TemporaryDirectory(dir=self.desk.folder) as target:

            def all_of_them() -> None:
                for plaque, prepared in zip(plaques, ready, strict=True):
                    plain_format.write(writer, plaque, prepared, Path(target))

            taken = min(_cpu(all_of_them) for _ in range(self.sizes.times)) / len(plaques) * 1000
        _, cpu = self.each("roman", many)
        yield Line(f"plainest formatter, same bytes ({same} files)", "", f"{taken:.2f} ms a plaque")
        yield Line("… a whole run of ours costs times that", "≤ 4", f"{cpu / taken:.1f}")

    def workers(self) -> Iterator[Line]:
        """Compare two workers with one."""
        many = self.sizes.many
        one, two = self.warm("roman", many), self.warm("roman", many, 2)
        # The target was 1.5 before reportlab; one process draws the proof, however many workers there are.
        yield Line(f"two workers, {many} plaques, quicker by", "≥ 1.4", f"{one.wall / two.wall:.2f}")
        different = _different(self.desk.folder / f"out-roman-{many}-1", self.desk.folder / f"out-roman-{many}-2")
        yield Line("… files that differ", "0", str(different))

    def great(self) -> Iterator[Line]:
        """Compare a list ten times as long with a tenth of its names: later ones have one more letter and a full
        stop."""
        many, great = self.sizes.many, self.sizes.great
        if not great:
            return
        (wall, cpu), (_, before) = self.each("roman", great), self.each(TENTH, great // 10)
        yield Line(f"{great} plaques", "", f"{wall:.1f} ms a plaque ({cpu:.1f})")
        yield Line(f"… against every tenth of them, {great // 10}", "≤ 1.1", f"{cpu / before:.2f}")
        # The target was 400 MB before reportlab drew the papers.
        yield Line("… memory at most", "< 500 MB", f"{self.warm('roman', great).memory:.0f} MB")
        yield Line(f"… of {many} plaques", "", f"{self.warm('roman', many).memory:.0f} MB")

    def script(self) -> Iterator[Line]:
        """Measure a joining script."""
        many = self.sizes.many
        yield Line(f"{many} names of a joining script, nothing kept", "< 60 s", _seconds(self.fill("script")))
        _, cpu = self.each("script", many)
        _, roman = self.each("roman", many)
        yield Line("… letters kept, a plaque", "", f"{cpu:.1f} ms")
        yield Line("… times a roman one", "≤ 5", f"{cpu / roman:.1f}")

    def changed(self) -> Iterator[Line]:
        """Change one row of a finished order, and one number."""
        many, rows = self.sizes.many, names(self.sizes.many)
        start = self.warm("roman", FEW)
        self.desk.restore("roman")
        folder = write_order(self.desk.folder / "changed", rows, "roman")
        self.desk.plaques("run", folder)
        again = self.desk.plaques("run", folder)
        yield Line(f"{many} plaques once more, nothing changed", "", _seconds(again))
        rows[many // 2] = "Xenia Quillfeather"
        write_order(folder, rows, "roman")
        ran = self.desk.plaques("run", folder)
        yield Line(f"one row of {many} changed", "", _seconds(ran))
        # The target was 1 s before reportlab; a change of one row redraws the whole proof.
        besides = f"{ran.wall - start.wall:.2f} s (processor {ran.cpu - start.cpu:.2f} s)"
        yield Line("… besides start-up", "≤ 2 s", besides)

    def letters(self) -> Iterator[Line]:
        """Measure what a letter costs once."""
        from pipeline.core.storage.cache import Cache
        from pipeline.lettering.font_face import open_face
        from pipeline.lettering.shaping import shape_row
        from tests.geometry.medial.narrowest import find_narrowest_stroke

        taken = []
        for name in self.sizes.faces:
            face = open_face(name, ROOT, cache=Cache(None), where="bench")
            for letter in LETTERS:
                for placed in shape_row([face], letter).shapes:
                    s = placed.shape
                    if s.outline:
                        taken.append(_cpu(lambda s=s: find_narrowest_stroke(s.outline, s.cap_units, s.units_per_em)))
        found = f"{statistics.median(taken) * 1000:.0f} ms, worst {max(taken) * 1000:.0f} ms"
        yield Line(f"narrowest stroke and land of a letter, once, median of {len(taken)}", "6–25 ms", found)


PARTS: dict[str, Callable[[Bench], Iterator[Line]]] = {
    "startup": Bench.startup,
    "roman": Bench.roman,
    "general": Bench.general,
    "reference": Bench.reference,
    "workers": Bench.workers,
    "great": Bench.great,
    "script": Bench.script,
    "changed": Bench.changed,
    "letters": Bench.letters,
}


def _seconds(ran: Ran) -> str:
    return f"{ran.wall:.2f} s (processor {ran.cpu:.2f} s)"


def _cpu(work: Callable[[], object]) -> float:
    """Return processor time, s: least affected by other load on the machine."""
    start = time.process_time()
    work()
    return time.process_time() - start


def _font_file(name: str) -> str:
    return next(p.name for p in (ROOT / "fonts" / name).iterdir() if p.suffix in (".ttf", ".otf"))


def _different(one: Path, two: Path) -> int:
    """Return the files of two folders that differ."""
    sides = [{p.relative_to(f): p.read_bytes() for p in f.rglob("*") if p.is_file()} for f in (one, two)]
    return sum(sides[0].get(name) != sides[1].get(name) for name in sides[0] | sides[1])
