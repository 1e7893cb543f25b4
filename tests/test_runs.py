"""Runs that make only what has changed, and runs in several processes: always the bytes of a run that makes all."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
import shapely
import uharfbuzz

from pipeline import cli, making, results, workers
from pipeline.core import errors, tool
from pipeline.core.cache import Cache, Kept
from pipeline.lettering import outlines
from pipeline.making import Maker
from pipeline.run import run_order
from tests.bench.orders import list_of, names, write_order

ROOT = Path(__file__).resolve().parents[1]

NAMES = [
    "Ada Tern",
    "Søren Wadeford",
    "Élodie Fenwright-Merewether of Ravensby",
    "Kit 漢 Gull",
    "Ada Tern",
    "Orla Wren",
]
"""Plain, with an accent, broken and smaller, with a character no face has, the first again, plain."""

MORE = 'same_size  = "{size}"\n'
FURTHER = """
[[line]]
text       = "Along the top"
face       = "montserrat"
cap_height = 4.0
arc        = { radius = 30.5, at = "top" }

[[line]]
text       = "Made for {name}"
face       = "roboto-slab"
cap_height = 4.0
side       = "back"

[files]
also    = ["svg"]
"""


@pytest.fixture(scope="module")
def order(tmp_path_factory) -> Path:
    """Every kind of line: broken or smaller, one size for all, fixed, on an arc, on the back; SVG files too."""
    return write_order(tmp_path_factory.mktemp("order"), NAMES, more=MORE.format(size="all"), end=FURTHER)


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def run(order: Path, out: Path, **how):
    done = run_order(order, out=out, **how)
    return done, files_of(out)


@pytest.fixture(scope="module")
def one(order, tmp_path_factory):
    """The order made by one process, and what was written."""
    return run(order, tmp_path_factory.mktemp("one"), workers=1)


def made(monkeypatch) -> list[int]:
    """Rows that are made, not taken as they were kept, from here on."""
    rows: list[int] = []
    make = Maker.make

    def counted(self, recipient):
        rows.append(recipient.row)
        return make(self, recipient)

    monkeypatch.setattr(Maker, "make", counted)
    return rows


def test_the_order_has_what_it_should(one):
    done, files = one
    codes = {f.code for p in done.outcome.plaques for f in p.findings}
    assert {"face.glyph-missing", "list.repeated"} <= codes and codes & {"fit.set-smaller", "fit.broken"}
    assert {p.state for p in done.outcome.plaques} >= {"ready", "stopped"}
    assert sum(name.endswith(".dxf") for name in files) == 8  # four designs, two sides
    assert sum(name.endswith(".svg") for name in files) == 8


@pytest.mark.parametrize(("count", "start"), [(2, None), (3, "spawn")])
def test_any_number_of_processes_gives_the_same_bytes(order, one, tmp_path, monkeypatch, count, start):
    monkeypatch.setattr(workers, "START_METHOD", start)
    forget(monkeypatch)
    done, files = run(order, tmp_path, workers=count)
    assert files == one[1]
    assert (done.exit_status, done.summary.splitlines()[:-1]) == (one[0].exit_status, one[0].summary.splitlines()[:-1])
    assert done.report == one[0].report


def test_what_is_kept_is_what_was_made(order, one, tmp_path, monkeypatch):
    out = tmp_path / "out"
    run(order, out, workers=1)
    rows = made(monkeypatch)
    done, files = run(order, out, workers=1)
    assert rows == []
    assert files == one[1]
    assert done.report == one[0].report


# --- what has changed, and nothing else ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def base(kept, tmp_path_factory) -> tuple[Path, dict[Path, bytes]]:
    """A plain order that has been run, and what was kept of it."""
    folder = tmp_path_factory.mktemp("base")
    own = write_order(folder / "order", ["Ada Tern", "Bo Skua", "Orla Wren"])
    rewrite(own, "Founders’ wall", f"Founders’ wall {folder}")  # kept by itself, whoever else runs tests
    before = set((kept / "plaques").glob("plaques-*.kept"))
    run(own, folder / "out", workers=1)
    stores = [
        f for f in (kept / "plaques").glob("plaques-*.kept") if f not in before and b"Orla Wren" in f.read_bytes()
    ]
    return folder, {file: file.read_bytes() for file in stores}


@pytest.fixture
def plain(base, tmp_path) -> Path:
    """A copy of it, with what was kept as it was."""
    shutil.copytree(base[0], tmp_path / "job")
    for file, data in base[1].items():
        file.write_bytes(data)
    return tmp_path / "job" / "order"


def forget(monkeypatch) -> None:
    """From here on nothing kept of plaques is used; letters stay measured."""
    monkeypatch.setattr(results.Store, "of", lambda self, recipient, writer: None)


def again(order: Path, monkeypatch) -> list[int]:
    """The rows that are made by another run; its files are those of a run that makes everything."""
    rows = made(monkeypatch)
    _, files = run(order, order.parent / "out", workers=1)
    found = list(rows)
    forget(monkeypatch)
    assert files == run(order, order.parent / "anew", workers=1)[1]
    return found


def rewrite(order: Path, old: str, new: str) -> None:
    text = (order / "order.toml").read_text(encoding="utf-8")
    assert old in text
    (order / "order.toml").write_text(text.replace(old, new), encoding="utf-8")


def test_a_changed_row_is_made_and_the_others_are_not(plain, monkeypatch):
    (plain / "names.csv").write_bytes(list_of(["Ada Tern", "Bo Skuaburn", "Orla Wren", "Kit Gull"]))
    assert again(plain, monkeypatch) == [3, 5]


def test_an_inserted_row_moves_the_others_and_makes_none_of_them(plain, monkeypatch):
    (plain / "names.csv").write_bytes(list_of(["Kit Gull", "Ada Tern", "Bo Skua", "Orla Wren"]))
    assert again(plain, monkeypatch) == [2]


@pytest.mark.parametrize(
    ("old", "new", "rows"),
    [
        ('shop     = "Saltmarsh Workshop"', 'shop     = "Another Workshop"', []),
        ("thickness     = 12", "thickness     = 12.5", [2, 3, 4]),
        ("[cutter]", "[limits]\nland = 0.15\n\n[cutter]", [2, 3, 4]),
        ('client = "Larkrise Hospice Trust"', 'client = "Larkrise Hospice"', [2, 3, 4]),  # it stands in the files
    ],
)
def test_a_changed_number_makes_what_depends_on_it(plain, monkeypatch, old, new, rows):
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


def test_another_version_of_the_tool_trusts_nothing(plain, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    _, files = run(plain, plain.parent / "out", workers=1)
    before = files_of(tmp_path / "kept")
    assert {Path(name).name.split("-")[0] for name in before} >= {"outlines", "measures", "fits", "plaques", "ways"}
    rows, drawn = made(monkeypatch), []
    unite = outlines.unite
    monkeypatch.setattr(outlines, "unite", lambda *given: (drawn.append(given), unite(*given))[1])
    assert run(plain, plain.parent / "out", workers=1)[1] == files
    assert (rows, drawn) == ([], [])
    monkeypatch.setattr(tool, "stamp", lambda: "another")
    assert run(plain, plain.parent / "out", workers=1)[1] == files
    assert rows == [2, 3, 4] and drawn
    after = files_of(tmp_path / "kept")
    assert after.keys() == before.keys()
    stamps = [{data.split()[2] for data in kept.values()} for kept in (before, after)]
    assert [len(found) for found in stamps] == [1, 1] and stamps[0] != stamps[1]


def test_the_stamp_follows_every_source_file(tmp_path, monkeypatch):
    package = tmp_path / "pipeline"
    (package / "core").mkdir(parents=True)
    (package / "core" / "a.py").write_text("x = 1\n")
    monkeypatch.setattr(tool, "PACKAGE", package)
    tool.stamp.cache_clear()
    first = tool.stamp()
    (package / "core" / "a.py").write_text("x = 2\n")
    tool.stamp.cache_clear()
    second = tool.stamp()
    tool.stamp.cache_clear()
    (package / "core" / "a.py").rename(package / "core" / "b.py")
    tool.stamp.cache_clear()
    third = tool.stamp()
    (package / "core" / "b.toml").write_text("x = 2\n")
    tool.stamp.cache_clear()
    fourth = tool.stamp()
    tool.stamp.cache_clear()
    assert len({first, second, third, fourth}) == 4


def test_the_stamp_follows_every_library(monkeypatch):
    asked = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]["dependencies"]
    assert set(tool.LIBRARIES) == {re.split(r"[^\w.-]", line)[0].lower() for line in asked}
    found = tool.versions()
    assert {name: found.get(name) for name in tool.LIBRARIES} == {name: version(name) for name in tool.LIBRARIES}
    stamps = set()
    for name in (*tool.LIBRARIES, None):
        monkeypatch.setattr(tool, "versions", lambda name=name: {**found, name: "0.0"})
        tool.stamp.cache_clear()
        stamps.add(tool.stamp())
    monkeypatch.undo()
    for carried, named in ((shapely, "geos_version_string"), (uharfbuzz, "version_string")):
        monkeypatch.setattr(carried, named, lambda: "0.0")
        tool.stamp.cache_clear()
        stamps.add(tool.stamp())
        monkeypatch.undo()
    tool.stamp.cache_clear()
    assert len(stamps) == len(tool.LIBRARIES) + 3


@pytest.mark.parametrize("damage", ["changed", "gone"])
def test_a_file_that_is_not_as_it_was_is_made_again(plain, monkeypatch, damage):
    file = next((plain.parent / "out" / "cut").glob("bo-*.dxf"))
    before = file.read_bytes()
    file.unlink()
    if damage == "changed":
        file.write_bytes(before[:-20])
    rows = made(monkeypatch)
    run(plain, plain.parent / "out", workers=1)
    assert rows == [3]
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data.replace(b"Ada Tern", b"Ada Torn"),
        lambda data: b"\x00" * 500,
    ],
)
def test_a_damaged_store_is_thrown_away(base, plain, monkeypatch, damage):
    assert base[1]
    for file, data in base[1].items():
        assert damage(data) != data
        file.write_bytes(damage(data))
    assert again(plain, monkeypatch) == [2, 3, 4]


@pytest.mark.parametrize("spoil", ["text", "letters"])
def test_a_store_that_is_whole_but_says_nonsense_is_not_believed(plain, monkeypatch, spoil):
    found = Kept.text

    def spoilt(self, space, key):
        text = found(self, space, key)
        wanted = "plaques" if spoil == "text" else "letters"
        return text.replace("[", "{", 1) if text and space == wanted else text

    monkeypatch.setattr(Kept, "text", spoilt)
    assert again(plain, monkeypatch) == [2, 3, 4]


def test_the_store_does_not_grow_without_end(tmp_path, monkeypatch):
    cache = Cache(tmp_path)
    store = cache.open("plaques-a")
    for k in range(100):
        store.put_text("plaques", f"{k:03}", json.dumps("x" * 100))
    cache.save()
    later = Cache(tmp_path).open("plaques-a")
    later.limit(5000)
    assert [later.text("plaques", f"{k:03}") is not None for k in (7, 8)] == [True, True]
    later.put_text("plaques", "new", "1")
    later.save()
    last = Cache(tmp_path).open("plaques-a")
    assert last.text("plaques", "new") == "1" and last.text("plaques", "007")
    assert last.text("plaques", "050") is None
    old = tmp_path / "old.kept"
    old.write_bytes(b"x" * 4000)
    os.utime(old, (1, 1))
    cache.clean(3000)
    assert not old.exists() and (tmp_path / store.path.name).exists()


# --- processes that go wrong -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [0, 2])
def test_a_process_that_dies_is_one_clear_error(plain, tmp_path, monkeypatch, capsys, after):
    """It dies with so many plaques made; what the other process has made by then is whole, and noted."""
    here, make, done = os.getpid(), Maker.make, []

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
        patch.setattr(workers, "START_METHOD", "fork")  # the child has this test's own Maker
        patch.setattr(Maker, "make", die)
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
def test_a_proof_that_cannot_be_written_is_told_from_any_process(plain, monkeypatch, count):
    proof = plain.parent / "out" / "proof.pdf"
    proof.unlink()
    proof.mkdir()
    monkeypatch.setattr(workers, "START_METHOD", "fork")
    with pytest.raises(errors.CannotRun, match=r"proof\.pdf: cannot be written"):
        run_order(plain, out=plain.parent / "out", workers=count)


def test_a_process_that_dies_over_the_proof_is_one_clear_error(plain, monkeypatch):
    monkeypatch.setattr(workers, "START_METHOD", "fork")
    monkeypatch.setattr("pipeline.outputs.proof.write_proof", lambda *given: os.kill(os.getpid(), signal.SIGKILL))
    with pytest.raises(errors.WorkerDied, match="drawing a paper is gone"):
        run_order(plain, out=plain.parent / "out", workers=2)


def test_a_run_that_is_stopped_keeps_what_it_made(plain, monkeypatch):
    """The second of two new names is made when somebody stops it; the first is not made again."""
    make = Maker.make

    def stopped(self, recipient):
        if recipient.row == 3:
            raise KeyboardInterrupt
        return make(self, recipient)

    (plain / "names.csv").write_bytes(list_of(["Ida Gull", "Una Gull"]))
    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(Maker, "make", stopped)
        run(plain, plain.parent / "out", workers=1)
    assert again(plain, monkeypatch) == [3]


STOPPABLE = """
import runpy, signal
signal.signal(signal.SIGINT, signal.default_int_handler)  # what a shell starts in the background ignores it
runpy.run_module("pipeline", run_name="__main__", alter_sys=True)
"""


def running(tmp_path: Path) -> subprocess.Popen[bytes]:
    """A run in three processes that has written its first files, in a session of its own."""
    order = write_order(tmp_path / "order", names(400))
    words = [sys.executable, "-c", STOPPABLE, "run", str(order), "--workers", "3"]
    ran = subprocess.Popen(words, cwd=ROOT, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    while not list((order / "out" / "cut").glob("*.dxf")):
        time.sleep(0.05)
        assert ran.poll() is None
    return ran


def test_the_others_end_with_the_process_that_began_them(tmp_path):
    ran = running(tmp_path)
    ran.kill()  # it alone
    said, wrong = ran.communicate()  # comes to an end only when no process holds the other end any more
    assert (said, wrong) == (b"", b"")
    assert len(list((tmp_path / "order" / "out" / "cut").glob("*.dxf"))) < 400


def test_a_run_that_is_stopped_leaves_no_process_and_says_so(tmp_path):
    ran = running(tmp_path)
    os.killpg(ran.pid, signal.SIGINT)
    _, said = ran.communicate()
    assert (ran.returncode, said.decode().strip()) == (2, "plaques: stopped by you; every file written so far is whole")
    with pytest.raises(ProcessLookupError):
        os.killpg(ran.pid, 0)


def test_a_fault_in_one_plaque_is_that_plaques_in_any_process(plain, monkeypatch):
    job_plaque = results.Job.plaque

    def broken(self, recipient):
        if recipient.row == 3:
            raise ZeroDivisionError("for the test")
        return job_plaque(self, recipient)

    monkeypatch.setattr(workers, "START_METHOD", "fork")
    monkeypatch.setattr(results.Job, "plaque", broken)
    forget(monkeypatch)
    for count in (1, 2):
        done = run_order(plain, out=plain.parent / f"out{count}", workers=count)
        assert done.exit_status == 3
        assert [row for row, _ in done.outcome.faults] == [3]
        assert "ZeroDivisionError" in done.outcome.faults[0][1]
        assert [p.state for p in done.outcome.plaques] == ["ready", "stopped", "ready"]


def test_a_folder_that_cannot_be_written_is_told_from_any_process(plain, monkeypatch):
    def refuse(self, name, data):
        raise errors.CannotRun(errors.Fault(where=name, found="cannot be written"))

    monkeypatch.setattr(workers, "START_METHOD", "fork")
    monkeypatch.setattr("pipeline.outputs.cutting.manifest.Manifest.add", refuse)
    with pytest.raises(errors.CannotRun, match="cannot be written"):
        run_order(plain, out=plain.parent / "elsewhere", workers=2)


def test_fresh_uses_nothing_kept(plain, monkeypatch):
    rows = made(monkeypatch)
    monkeypatch.setattr(Kept, "_read", lambda self, path: pytest.fail(f"{path} was read"))
    (plain / "names.csv").write_bytes(list_of(["Ada"]))
    run(plain, plain.parent / "out", workers=1, fresh=True)
    assert rows == [2]


def test_few_plaques_are_made_by_one_process():
    assert making.sensible(10) == 1
    assert making.sensible(100_000) >= 1


@pytest.mark.parametrize("wrong", ["0", "-1", "two", "1.5"])
def test_a_number_of_processes_that_is_none_is_refused(wrong, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(["run", "nowhere", "--workers", wrong])
    assert stop.value.code == 2
    assert "a number from 1 on is expected" in capsys.readouterr().err
