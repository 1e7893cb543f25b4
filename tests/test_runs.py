"""Runs that make only what has changed, and runs in several processes, give the bytes of a run that makes
everything."""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import multiprocessing
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import tomllib
from functools import partial
from importlib.metadata import version
from pathlib import Path

import pytest
import shapely
import uharfbuzz

from pipeline import batch, cli
from pipeline.batch import PlaqueMaker
from pipeline.core import errors
from pipeline.core.storage import cache_key
from pipeline.core.storage.cache import FILE
from pipeline.lettering import outlines
from pipeline.run import run_order
from tests.bench.orders import list_of, write_order

ROOT = Path(__file__).resolve().parents[1]
pytestmark = pytest.mark.xdist_group("runs")  # all start from two runs that are made once

NAMES = [
    "Ada Tern",
    "Teá Ran",
    "Nadera Trane-Ardenter and Ada Tandren",
    "Ran 漢 Tern",
    "Ada Tern",
    "Nan Teda",
]
"""Plain, with an accent, broken and smaller, with a character no face has, the first again, plain."""

MORE = 'same_size  = "{size}"\n'
FURTHER = """
[[line]]
text       = "Art and ten"
face       = "montserrat"
cap_height = 4.0
arc        = { radius = 30.5, at = "top" }

[[line]]
text       = "And {name}"
face       = "roboto-slab"
cap_height = 4.0
side       = "back"

[files]
also    = ["svg"]
"""


def few_letters(folder: Path, rows: list[str], **more: str) -> Path:
    """Return an order whose fixed lines are short: the cached letters are discarded here again and again."""
    order = write_order(folder, rows, **more)
    rewrite(order, "Founder of the new wing", "Aunt")
    rewrite(order, "Larkrise Hospice · 2026", "22")
    return order


@pytest.fixture(scope="module")
def order(tmp_path_factory) -> Path:
    """Write an order with every kind of line: broken or smaller, one size for all, fixed, on an arc, on the back;
    SVG files too."""
    return few_letters(tmp_path_factory.mktemp("order"), NAMES, more=MORE.format(size="all"), end=FURTHER)


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def run(order: Path, out: Path, **how):
    done = run_order(order, out=out, **how)
    return done, files_of(out)


@pytest.fixture(scope="module")
def one(order, tmp_path_factory):
    """Return the order made by one process, and its files."""
    return run(order, tmp_path_factory.mktemp("one"), workers=1)


@pytest.fixture
def start_method():
    """Set the start method of processes until the test ends; None: the platform's default."""
    yield partial(multiprocessing.set_start_method, force=True)
    multiprocessing.set_start_method(None, force=True)


def made(monkeypatch) -> list[int]:
    """Return the rows that are made, not taken from the cache, from here on."""
    rows: list[int] = []
    make = PlaqueMaker.make

    def counted(self, recipient):
        rows.append(recipient.row)
        return make(self, recipient)

    monkeypatch.setattr(PlaqueMaker, "make", counted)
    return rows


def test_the_order_has_every_kind_of_line(one):
    done, files = one
    codes = {f.code for p in done.outcome.plaques for f in p.findings}
    assert {"face.glyph-missing", "list.repeated"} <= codes and codes & {"fit.set-smaller", "fit.broken"}
    assert {p.state for p in done.outcome.plaques} >= {"ready", "stopped"}
    assert sum(name.endswith(".dxf") for name in files) == 8  # four designs, two sides
    assert sum(name.endswith(".svg") for name in files) == 8


@pytest.mark.parametrize(("count", "start"), [(3, None), (2, "spawn")])
def test_any_number_of_processes_gives_the_same_bytes(order, one, tmp_path, monkeypatch, start_method, count, start):
    start_method(start)
    forget(tmp_path, monkeypatch)
    done, files = run(order, tmp_path / "out", workers=count)
    assert files == one[1]
    assert (done.exit_status, done.summary.splitlines()[:-1]) == (one[0].exit_status, one[0].summary.splitlines()[:-1])
    assert done.report == one[0].report


def test_cached_plaques_equal_made_ones(order, one, tmp_path, monkeypatch):
    out = tmp_path / "out"
    run(order, out, workers=1)
    rows = made(monkeypatch)
    done, files = run(order, out, workers=1)
    assert rows == [5]  # a stopped plaque is made again
    assert files == one[1]
    assert done.report == one[0].report


# --- what has changed, and nothing else ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def base(kept, tmp_path_factory) -> Path:
    """Return a plain order that has been run, and its cache."""
    folder = tmp_path_factory.mktemp("base")
    order = few_letters(folder / "order", ["Ada Tern", "Bo Skua", "Orla Wren"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "kept"))
        run(order, folder / "out", workers=1)
    return folder


@pytest.fixture
def plain(base, tmp_path, monkeypatch) -> Path:
    """Return a copy of it, with its cache unchanged."""
    shutil.copytree(base, tmp_path / "job")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "job" / "kept"))
    return tmp_path / "job" / "order"


def kept_rows(order: Path, spaces: tuple[str, ...], change: str, *values: object) -> int:
    """Change rows of these spaces in the cache; return how many."""
    with sqlite3.connect(order.parent / "kept" / "plaques" / FILE) as db:
        many = ",".join("?" * len(spaces))
        changed = db.execute(f"{change} WHERE space IN ({many})", (*values, *spaces)).rowcount
    db.close()
    return changed


def forget(folder: Path, monkeypatch) -> None:
    """From here on no cached plaques are used; letters stay measured: the cache is a copy without plaques."""
    shop = folder / "without-plaques"
    (shop / "plaques").mkdir(parents=True)
    held, mine = Path(os.environ["XDG_CACHE_HOME"]) / "plaques" / FILE, shop / "plaques" / FILE
    with contextlib.closing(sqlite3.connect(held, timeout=60)) as kept, contextlib.closing(sqlite3.connect(mine)) as db:
        kept.backup(db)
        if db.execute("SELECT * FROM sqlite_master WHERE name = 'kept'").fetchall():  # it wasn't damaged
            db.execute("DELETE FROM kept WHERE space = 'plaque'")
            db.commit()
    monkeypatch.setenv("XDG_CACHE_HOME", str(shop))


def again(order: Path, monkeypatch) -> list[int]:
    """Return the rows that another run makes; its files are those of a run that makes everything."""
    rows = made(monkeypatch)
    _, files = run(order, order.parent / "out", workers=1)
    found = list(rows)
    forget(order.parent, monkeypatch)
    assert files == run(order, order.parent / "anew", workers=1)[1]
    return found


def rewrite(order: Path, old: str, new: str) -> None:
    text = (order / "order.toml").read_text(encoding="utf-8")
    assert old in text
    (order / "order.toml").write_text(text.replace(old, new), encoding="utf-8")


def test_a_changed_row_is_made_and_the_others_are_not(plain, monkeypatch):
    (plain / "names.csv").write_bytes(list_of(["Ada Tern", "Bo Skuaburn", "Orla Wren", "Kit Gull"]))
    assert again(plain, monkeypatch) == [3, 5]


def test_an_inserted_row_moves_the_others_which_are_made_anew(plain, monkeypatch):
    (plain / "names.csv").write_bytes(list_of(["Ada Tern", "Kit Gull", "Bo Skua", "Orla Wren"]))
    assert again(plain, monkeypatch) == [3, 4, 5]


def test_a_row_that_is_stopped_and_corrected_loses_and_regains_its_files(plain, monkeypatch):
    """An error cell stops the plaque, and its file is removed; corrected, it is made; the stopped one isn't cached."""
    out = plain.parent / "out"

    def files() -> set[str]:
        return {file.name.split("-")[0] for file in (out / "cut").glob("*.dxf")}

    assert files() == {"ada", "bo", "orla"}
    (plain / "names.csv").write_bytes(list_of(["Ada Tern", "#REF!", "Orla Wren"]))
    assert again(plain, monkeypatch) == [3] and files() == {"ada", "orla"}
    assert kept_rows(plain, ("plaque",), "UPDATE kept SET space = space") == 3


def test_a_cell_beside_the_name_that_shows_an_error_stops_and_clears_the_plaque(tmp_path, monkeypatch):
    """Read as `Ada,#REF!`, then cleared, then as before: stopped, ready, stopped, and its file appears and
    disappears."""
    order = few_letters(tmp_path / "order", ["Ada Tern"])
    toml = (order / "order.toml").read_text(encoding="utf-8")
    toml = toml.replace('columns = { name = "Name" }', 'columns = { name = "Name", post = "Post" }')
    (order / "order.toml").write_text(toml.replace('"Aunt"', '"{post}"'), encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    seen = []
    for post in ("#REF!", "", "#REF!"):
        (order / "names.csv").write_text(f"Name,Post\nAda,{post}\nBo,Warden\n", encoding="utf-8")
        done, files = run(order, tmp_path / "out", workers=1)
        cut = sorted(name.split("-")[0] for name in files if name.endswith(".dxf"))
        seen.append((done.exit_status, [bool(p.fingerprint) for p in done.outcome.plaques], cut))
    stopped, ready = (1, [False, True], ["cut/bo"]), (0, [True, True], ["cut/ada", "cut/bo"])
    assert seen == [stopped, ready, stopped]


@pytest.mark.parametrize(
    ("old", "new", "rows"),
    [
        ('shop     = "Saltmarsh Workshop"', 'shop     = "Another Workshop"', [2, 3, 4]),  # any change of the order
        ("thickness     = 12", "thickness     = 12.5", [2, 3, 4]),
        ("[cutter]", "[limits]\nland = 0.15\n\n[cutter]", [2, 3, 4]),
        ('client = "Larkrise Hospice Trust"', 'client = "Larkrise Hospice"', [2, 3, 4]),  # it is in the files
    ],
)
def test_a_changed_order_remakes_every_plaque(plain, monkeypatch, old, new, rows):
    rewrite(plain, old, new)
    if "client" in old:  # another order's folder is refused
        (plain.parent / "out").rename(plain.parent / "before")
    assert again(plain, monkeypatch) == rows


def test_a_changed_font_file_is_another_font(plain, monkeypatch):
    shelf = Path(__file__).resolve().parent.parent / "fonts"
    (plain / "own.ttf").write_bytes(next((shelf / "roboto-slab").glob("*.ttf")).read_bytes())
    rewrite(plain, 'face       = "roboto-slab"', 'face       = "own.ttf"')
    run(plain, plain.parent / "out", workers=1)
    (plain / "own.ttf").write_bytes(next((shelf / "oswald").glob("*.ttf")).read_bytes())
    assert again(plain, monkeypatch) == [2, 3, 4]


def test_another_version_of_the_tool_uses_nothing_cached(plain, monkeypatch):
    rows, drawn = made(monkeypatch), []
    unite = outlines.unite_contours
    monkeypatch.setattr(outlines, "unite_contours", lambda *given: (drawn.append(given), unite(*given))[1])
    _, files = run(plain, plain.parent / "out", workers=1)
    assert (rows, drawn) == ([], [])
    monkeypatch.setattr(cache_key, "build_key", lambda: "another")
    assert run(plain, plain.parent / "out", workers=1)[1] == files
    assert rows == [2, 3, 4] and drawn


def test_the_stamp_follows_every_source_file(tmp_path, monkeypatch):
    package = tmp_path / "pipeline"
    (package / "core").mkdir(parents=True)
    (package / "core" / "a.py").write_text("x = 1\n")
    monkeypatch.setattr(cache_key, "PACKAGE", package)
    cache_key.build_key.cache_clear()
    first = cache_key.build_key()
    (package / "core" / "a.py").write_text("x = 2\n")
    cache_key.build_key.cache_clear()
    second = cache_key.build_key()
    cache_key.build_key.cache_clear()
    (package / "core" / "a.py").rename(package / "core" / "b.py")
    cache_key.build_key.cache_clear()
    third = cache_key.build_key()
    (package / "core" / "b.toml").write_text("x = 2\n")
    cache_key.build_key.cache_clear()
    fourth = cache_key.build_key()
    cache_key.build_key.cache_clear()
    assert len({first, second, third, fourth}) == 4


def test_the_stamp_follows_every_library(monkeypatch):
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
    asked = [*project["dependencies"], *project["optional-dependencies"]["pictures"]]
    assert set(cache_key.LIBRARIES) == {re.split(r"[^\w.-]", line)[0].lower() for line in asked}
    found = cache_key.list_versions()
    assert {name: found.get(name) for name in cache_key.LIBRARIES} == {
        name: version(name) for name in cache_key.LIBRARIES
    }
    stamps = set()
    for name in (*cache_key.LIBRARIES, None):
        monkeypatch.setattr(cache_key, "list_versions", lambda name=name: {**found, name: "0.0"})
        cache_key.build_key.cache_clear()
        stamps.add(cache_key.build_key())
    monkeypatch.undo()
    for carried, named in ((shapely, "geos_version_string"), (uharfbuzz, "version_string")):
        monkeypatch.setattr(carried, named, lambda: "0.0")
        cache_key.build_key.cache_clear()
        stamps.add(cache_key.build_key())
        monkeypatch.undo()
    cache_key.build_key.cache_clear()
    assert len(stamps) == len(cache_key.LIBRARIES) + 3


@pytest.mark.parametrize("damage", ["changed", "gone"])
def test_a_changed_file_is_made_again(plain, monkeypatch, damage):
    file = next((plain.parent / "out" / "cut").glob("bo-*.dxf"))
    before = file.read_bytes()
    file.unlink()
    if damage == "changed":
        file.write_bytes(before[:-20])
    rows = made(monkeypatch)
    run(plain, plain.parent / "out", workers=1)
    assert rows == [3]
    assert file.read_bytes() == before


@pytest.mark.parametrize("spoil", ["file", "plaque", "letters"])
def test_a_damaged_cache_is_not_trusted(plain, monkeypatch, spoil):
    if spoil == "file":
        (plain.parent / "kept" / "plaques" / FILE).write_bytes(b"\x00" * 500)
    else:
        assert kept_rows(plain, (spoil,), "UPDATE kept SET content = replace(content, ?, ?)", "a", "b")
    assert again(plain, monkeypatch) == [2, 3, 4]


# --- processes that go wrong -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [0, 2])
def test_a_process_that_dies_is_one_clear_error(plain, tmp_path, monkeypatch, start_method, capsys, after):
    """It dies after that many plaques; what the other process has made by then is whole, and noted."""
    here, make, done = os.getpid(), PlaqueMaker.make, []

    def die(self, recipient):
        if os.getpid() != here and len(done) == after:
            os.kill(os.getpid(), signal.SIGKILL)
        done.append(recipient.row)
        return make(self, recipient)

    rows = [f"{name} Gull" for name in "Ida Kit Una Bess Orla Milo Nell Hugo".split()]
    (plain / "names.csv").write_bytes(list_of(rows))
    out = plain.parent / "out"
    before = files_of(out)
    with monkeypatch.context() as patch:
        start_method("fork")  # the child has this test's own Maker
        patch.setattr(PlaqueMaker, "make", die)
        assert cli.main(["run", str(plain), "--out", str(out), "--workers", "2"]) == 3
    said = capsys.readouterr()
    assert "a process that was making plaques is gone" in said.err and "Traceback" not in said.err
    left = files_of(out)
    noted = left.pop("cut/written.sha256").decode()
    assert {name: left[name] for name in before.keys() - {"cut/written.sha256"}} == {
        name: data for name, data in before.items() if name != "cut/written.sha256"
    }
    for name in left.keys() - before.keys():
        assert f"{hashlib.sha256(left[name]).hexdigest()}  {name.removeprefix('cut/')}\n" in noted
    assert run(plain, out, workers=1)[1] == run(plain, tmp_path / "anew", workers=1)[1]


@pytest.mark.parametrize("count", [1, 2])
def test_a_proof_that_cannot_be_written_is_told_from_any_process(plain, start_method, count):
    proof = plain.parent / "out" / "proof.pdf"
    proof.unlink()
    proof.mkdir()
    start_method("fork")
    with pytest.raises(errors.CannotRun, match=r"proof\.pdf: cannot be written"):
        run_order(plain, out=plain.parent / "out", workers=count)


def test_a_process_that_dies_over_the_proof_is_one_clear_error(plain, monkeypatch, start_method):
    start_method("fork")
    monkeypatch.setattr(
        "pipeline.outputs.proof.proof.write_proofs", lambda *given: os.kill(os.getpid(), signal.SIGKILL)
    )
    with pytest.raises(errors.WorkerDied, match="drawing a paper is gone"):
        run_order(plain, out=plain.parent / "out", workers=2)


def test_an_interrupted_run_keeps_what_it_made(plain, monkeypatch):
    """The second of two new names is being made when somebody interrupts it; the first isn't made again."""
    make = PlaqueMaker.make

    def stopped(self, recipient):
        if recipient.row == 3:
            raise KeyboardInterrupt
        return make(self, recipient)

    (plain / "names.csv").write_bytes(list_of(["Ida Gull", "Una Gull"]))
    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(PlaqueMaker, "make", stopped)
        run(plain, plain.parent / "out", workers=1)
    assert again(plain, monkeypatch) == [3]


STOPPABLE = """
import runpy, signal
signal.signal(signal.SIGINT, signal.default_int_handler)  # what a shell starts in the background ignores it
runpy.run_module("pipeline", run_name="__main__", alter_sys=True)
"""


def running(tmp_path: Path) -> subprocess.Popen[bytes]:
    """Return a run in three processes that has written its first files, in its own session."""
    halves = ["".join(parts) for parts in itertools.product("An En Ra Ta".split(), "da den ra ta ne".split())]
    order = few_letters(tmp_path / "order", [" ".join(both) for both in itertools.product(halves, halves)])
    words = [sys.executable, "-c", STOPPABLE, "run", str(order), "--workers", "3"]
    ran = subprocess.Popen(words, cwd=ROOT, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    while not list((order / "out" / "cut").glob("*.dxf")):
        time.sleep(0.05)
        assert ran.poll() is None
    return ran


def test_worker_processes_end_with_their_parent(tmp_path):
    ran = running(tmp_path)
    ran.kill()  # only this one
    said, wrong = ran.communicate()  # ends only when no process holds the other end
    assert (said, wrong) == (b"", b"")
    assert len(list((tmp_path / "order" / "out" / "cut").glob("*.dxf"))) < 400


def test_an_interrupted_run_leaves_no_process_and_reports_it(tmp_path):
    ran = running(tmp_path)
    os.killpg(ran.pid, signal.SIGINT)
    _, said = ran.communicate()
    told = "plaques: stopped by you; every file written so far is complete"
    assert (ran.returncode, said.decode().strip()) == (2, told)
    assert ended(ran.pid)


def ended(group: int) -> bool:
    """Return whether no process of a group exists any more, once the system has reaped those that have ended."""
    for _ in range(600):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


def test_a_fault_in_one_plaque_is_that_plaques_in_any_process(plain, monkeypatch, start_method):
    job_plaque = batch.Job.make_plaque

    def broken(self, recipient):
        if recipient.row == 3:
            raise ZeroDivisionError("for the test")
        return job_plaque(self, recipient)

    start_method("fork")
    monkeypatch.setattr(batch.Job, "make_plaque", broken)
    forget(plain.parent, monkeypatch)
    for count in (1, 2):
        done = run_order(plain, out=plain.parent / f"out{count}", workers=count)
        assert done.exit_status == 3
        assert [row for row, _ in done.outcome.faults] == [3]
        assert "ZeroDivisionError" in done.outcome.faults[0][1]
        assert [p.state for p in done.outcome.plaques] == ["ready", "stopped", "ready"]


def test_a_folder_that_cannot_be_written_is_told_from_any_process(plain, monkeypatch, start_method):
    def refuse(self, name, data):
        raise errors.CannotRun(errors.Fault(where=name, found="cannot be written"))

    start_method("fork")
    monkeypatch.setattr("pipeline.outputs.cut_files.manifest.Manifest.add", refuse)
    with pytest.raises(errors.CannotRun, match="cannot be written"):
        run_order(plain, out=plain.parent / "elsewhere", workers=2)


def test_fresh_neither_reads_nor_writes_the_cache(plain, monkeypatch):
    rows = made(monkeypatch)
    file = plain.parent / "kept" / "plaques" / FILE
    file.write_bytes(b"not looked at")
    (plain / "names.csv").write_bytes(list_of(["Ada"]))
    run(plain, plain.parent / "out", workers=1, fresh=True)
    assert rows == [2] and file.read_bytes() == b"not looked at"


def test_verbose_output_says_why_nothing_is_cached(plain, tmp_path, monkeypatch, capsys):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    (plain / "names.csv").write_bytes(list_of(["Ada"]))
    for words in ([], ["-v"]):
        assert cli.main(["check", str(plain), "--out", str(tmp_path / "out"), *words]) == 0
        assert ("no cache, or not all of it" in capsys.readouterr().err) == bool(words)


def test_few_plaques_are_made_by_one_process():
    assert batch.choose_workers(10) == 1
    assert batch.choose_workers(100_000) >= 1


@pytest.mark.parametrize("wrong", ["0", "-1", "two", "1.5"])
def test_an_impossible_number_of_processes_is_refused(wrong, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(["run", "nowhere", "--workers", wrong])
    assert stop.value.code == 2
    assert "expected a number from 1 up" in capsys.readouterr().err
