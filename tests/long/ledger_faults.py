"""Commands that write the sign-off ledger, killed at any moment, and four of them at once.

    python -m tests.long.ledger_faults [KILLS] [AT_ONCE] [SEED] [COMMANDS]

A kill: a small order, signed by an earlier version or by this one, is copied; a command is begun on the copy in a
process of its own, which ends itself without warning at a moment drawn by lot among all those at which it was about to
write: before a statement of the database, before a file is opened for writing, renamed or removed. What is left is
looked at, then everything is done once more undisturbed, and the end has to be that of an order nobody disturbed.

At once: sign, release, run and status begin together on one copy; or two that mark the same pieces, and a release.
Counted are rows lost, pieces counted wrong, partial files, and commands that ended otherwise than they may. COMMANDS:
only those whose names begin so, such as "mark".

Disks: a command meets a disk that takes nothing, or that is full after so many bytes, drawn by lot.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import io
import json
import os
import random
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl

from pipeline.commands.afterwards.mark_command import MarkRequest, mark
from pipeline.commands.release_command import release
from pipeline.commands.sign_command import sign
from pipeline.commands.status_command import print_status
from pipeline.commands.void import void_rows
from pipeline.core.environment.clock import get_utc_now
from pipeline.core.errors import CannotRun
from pipeline.core.language.texts import list_languages, load_texts
from pipeline.order_state import take_snapshot
from pipeline.run import run_order
from pipeline.signoff.design_answers import read_design_answers
from pipeline.signoff.pieces.piece_tally import tally_pieces
from pipeline.signoff.records.ledger import Ledger, LedgerEntry, find_chain_breaks, select_counting_entries
from pipeline.signoff.release_files import find_released_before
from tests.signoff.rounds import filled

BEFORE = Path(__file__).resolve().parents[1] / "signoff" / "signed_before" / "plain"
ALL = "2-3,late.csv!2"
"""All rows of the order."""
PIECES = 4
"""All pieces of the order."""
ANSWERS = {"letter.pdf": 3, "all.xlsx": 3, "refused.xlsx": 2, "letter": 3}
"""Answers that each paper gives when it is recorded whole."""
Doing = Callable[[Path], int]


def _silent(text: str) -> None:
    """Discard the commands' output."""


def _sign_sheet(folder: Path) -> int:
    return sign(folder, [folder / "all.xlsx"], clock=get_utc_now, say=_silent)


def _sign_rows(folder: Path) -> int:
    return sign(folder, rows=ALL, by="Wren Avocet", on="3 May", paper="letter", clock=get_utc_now, say=_silent)


def _refuse(folder: Path) -> int:
    return sign(folder, [folder / "refused.xlsx"], clock=get_utc_now, say=_silent)


def _release(folder: Path) -> int:
    return release(folder, clock=get_utc_now, say=_silent, look=take_snapshot)


def _run(folder: Path) -> int:
    return run_order(folder, workers=1).exit_status


def _status(folder: Path) -> int:
    return print_status(folder, say=_silent, look=take_snapshot)


def _mark(folder: Path, what: str = "cut", rows: str = ALL, **more: object) -> int:
    request = MarkRequest(what=what, rows=rows, **more)  # type: ignore[arg-type]
    return mark(folder, request, clock=get_utc_now, say=_silent, look=take_snapshot)


def _spoil(folder: Path) -> int:
    return _mark(folder, "spoilt", "2", pieces=1)


def _deliver(folder: Path) -> int:
    return _mark(folder, "delivered", "3,late.csv!2")


def _mark_released(folder: Path) -> int:
    """Mark those that the earlier version released."""
    return _mark(folder, "cut", _rows_out(folder))


def _rows_out(folder: Path) -> str:
    rows = {row for e in Ledger.open(folder).read_entries() if e.kind == "released" for row in e.rows}
    return ",".join(map(str, sorted(rows)))


def _void(folder: Path) -> int:
    papers = [e for e in select_counting_entries(Ledger.open(folder).read_entries()) if e.kind == "paper"]
    return void_rows(folder, str(papers[-1].id), by="Wren Avocet", clock=get_utc_now, say=_silent) if papers else 0


COMMANDS: dict[str, tuple[tuple[Doing, ...], Doing]] = {
    "sign a sheet": ((), _sign_sheet),
    "sign by hand": ((), _sign_rows),
    "release": ((_sign_sheet,), _release),
    "release once more": ((_sign_sheet, _release), _release),
    "release, taking back": ((_sign_sheet, _release, _refuse), _release),
    "run": ((), _run),
    "void": ((_sign_sheet,), _void),
    "sign, of an earlier version's ledger": ((), _sign_sheet),
    "run, of an earlier version's ledger": ((), _run),
    "mark": ((_sign_sheet, _release), _mark),
    "mark as spoilt": ((_sign_sheet, _release, _mark), _spoil),
    "mark, of an earlier version's ledger": ((), _mark_released),
    "release after marks": ((_sign_sheet, _release, _mark, _spoil), _release),
    "release of half": ((_sign_sheet, _release, _deliver), _release),
}
"""What is done before, and what is killed."""


@dataclass
class Found:
    """Counts over all tries."""

    tries: int = 0
    killed: int = 0
    rows_lost: int = 0
    pieces_miscounted: int = 0
    partial_files: int = 0
    ended_wrongly: int = 0
    by_command: Counter[str] = field(default_factory=Counter)
    moments: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        return not (self.rows_lost or self.pieces_miscounted or self.partial_files or self.ended_wrongly)

    def __str__(self) -> str:
        kinds = ", ".join(f"{name} {n}" for name, n in sorted(self.by_command.items()))
        moments = ", ".join(f"{name} {n}" for name, n in sorted(self.moments.items()))
        return (
            f"{self.tries} tries ({kinds}); killed {self.killed} (before: {moments}); rows lost {self.rows_lost}, "
            f"pieces miscounted {self.pieces_miscounted}, partial files {self.partial_files}, ended wrongly "
            f"{self.ended_wrongly}" + "".join(f"\n  {line}" for line in self.told[:20])
        )


# --- processes --------------------------------------------------------------------------------------------------------


def _child(folder: Path, do: Doing, *, die_at: int | None = None, count: int | None = None) -> int:
    """Run it in a separate process; return its exit status, or minus the signal that ended it.

    die_at: the moment, counted from 1, at which it kills itself. count: a file descriptor that receives the number
    of moments and their kinds instead.
    """
    process = os.fork()
    if process:
        return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
    status_ = 3
    try:
        moments: list[str] = []
        if die_at is not None or count is not None:
            _watch(folder, moments, die_at)
        with contextlib.redirect_stderr(io.StringIO()):
            try:
                status_ = do(folder)
            except CannotRun:
                status_ = 2
        if count is not None:
            os.write(count, json.dumps(moments).encode())
    finally:
        os._exit(status_)


def _watch(folder: Path, moments: list[str], die_at: int | None) -> None:
    """Note every moment at which this process is about to write to the folder; end it at the requested one."""
    inside = str(folder)

    def passed(kind: str) -> None:
        moments.append(kind)
        if die_at is not None and len(moments) >= die_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def heard(event: str, given: tuple[object, ...]) -> None:
        if event == "open" and isinstance(given[0], str | bytes | os.PathLike):
            writes = isinstance(given[2], int) and given[2] & (os.O_WRONLY | os.O_RDWR)
            if writes and os.fsdecode(given[0]).startswith(inside):
                passed("open")
        elif event in ("os.rename", "os.remove") and os.fsdecode(given[0]).startswith(inside):  # type: ignore[arg-type]
            passed(event)

    connect = sqlite3.connect

    def watched(path: object, *given: object, **more: object) -> sqlite3.Connection:
        base = connect(path, *given, **more)  # type: ignore[arg-type,call-overload]
        if str(path).startswith(inside):
            base.set_trace_callback(lambda statement: passed(statement.split(None, 1)[0].upper()))
        return base  # type: ignore[no-any-return]

    sqlite3.connect = watched  # type: ignore[assignment]
    sys.addaudithook(heard)


def _moments(folder: Path, do: Doing) -> list[str]:
    """Return every moment of the command, in order."""
    read, write = os.pipe()
    with os.fdopen(read, "rb") as told:
        _child(folder, do, count=write)
        os.close(write)
        return list(json.loads(told.read() or b"[]"))


# --- what is held against what ----------------------------------------------------------------------------------------


def template(folder: Path) -> Path:
    """Return the small order, run, with two returned check sheets: everything approved, and one plaque refused. The
    last name is in a further list."""
    shutil.copytree(BEFORE, folder)
    *rows, last = (folder / "crew.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "crew.csv").write_text("".join(rows), encoding="utf-8")
    (folder / "late.csv").write_text(rows[0] + last, encoding="utf-8")
    order = (folder / "order.toml").read_text(encoding="utf-8")
    (folder / "order.toml").write_text(order.replace("[list]\n", '[list]\nmore = ["late.csv"]\n'), encoding="utf-8")
    run_order(folder)
    for language in list_languages():
        load_texts(language)  # what is read here, the processes begun from this one need not read
    filled(folder / "out" / "check.xlsx", folder / "all.xlsx", dict.fromkeys((2, 3, "late.csv!2"), "agreed"))
    filled(folder / "out" / "check.xlsx", folder / "refused.xlsx", {3: "do not cut"}, on="9 May 2026")
    return folder


def _rows(folder: Path) -> tuple[LedgerEntry, ...] | None:
    """Return the ledger's rows when it is intact; None when it isn't."""
    ledger = Ledger.open(folder)
    try:
        with contextlib.closing(sqlite3.connect(ledger.path)) as base:
            if base.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                return None
        entries = ledger.read_entries()
    except (sqlite3.Error, CannotRun):
        return None
    return None if find_chain_breaks(entries) else entries


def _papers_whole(entries: tuple[LedgerEntry, ...]) -> bool:
    """Return whether each paper is there with all its answers, and none twice."""
    papers = [e for e in entries if e.kind == "paper"]
    names = [(p.source, p.source_sha256, p.by) for p in select_counting_entries(papers)]
    return len(names) == len(set(names)) and all(
        sum(a.source == p.source and a.at == p.at for a in entries if a.kind == "answer") == ANSWERS[p.source]
        for p in papers
    )


def _partial(folder: Path) -> Iterator[str]:
    """Return files that are neither as before nor as they should be."""
    out = folder / "out"
    for file in sorted(p for p in (out / "released").rglob("*") if p.is_file()):
        if any(part.startswith(".") for part in file.relative_to(out).parts):
            continue  # unfinished, beside its target: nobody mistakes it for a release
        data = file.read_bytes()
        if file.suffix == ".dxf" and file.parent.name not in ("boards", "jigs"):
            cut = out / "cut" / file.name
            if not data or (cut.exists() and cut.read_bytes() != data):
                yield file.name
        elif file.suffix == ".xlsx":
            try:
                openpyxl.load_workbook(io.BytesIO(data)).close()
            except Exception:
                yield file.name
        elif file.suffix == ".json":
            try:
                json.loads(data)
            except ValueError:
                yield file.name
        elif file.suffix == ".pdf" and not (data.startswith(b"%PDF") and data.rstrip().endswith(b"%%EOF")):
            yield file.name


def _wrong_pieces(folder: Path, entries: tuple[LedgerEntry, ...]) -> str:
    """Return where manifest, ledger and folder disagree; empty when they agree."""
    counted = take_snapshot(folder).build_sign_off(entries).entries  # designs of an earlier version under today's codes
    out = {mark: pieces for mark, (pieces, _) in find_released_before(counted).items()}
    try:
        manifest = json.loads((folder / "out" / "released" / "manifest.json").read_bytes())
    except FileNotFoundError:
        return "there is no manifest"
    listed = {g["fingerprint"]: g["pieces"] for g in manifest["released"]}
    files = {f["name"]: f["sha256"] for g in manifest["released"] for f in g["files"]}
    there = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (folder / "out" / "released").glob("*.dxf")}
    head = manifest["ledger"]
    if out != listed:
        return f"the ledger has {out} out, the manifest {listed}"
    if files != there:
        return f"the manifest has {sorted(files)}, the folder {sorted(there)}"
    if head["rows"] > len(entries) or entries[head["rows"] - 1].hash != head["hash"]:
        return "the manifest's row is not in the ledger"
    if told := _twice(folder, counted):
        return told
    return "" if max(listed.values(), default=0) <= PIECES else f"{listed} is more than there are"


def _twice(folder: Path, entries: tuple[LedgerEntry, ...]) -> str:
    """Return pieces that the papers would have cut once too often, or that are lost; and archived releases that are
    incomplete."""
    said = read_design_answers(entries)
    for code, t in tally_pieces(entries).items():
        signed = said[code].pieces if code in said and said[code].decision == "agreed" else 0
        if t.let_out > max(signed + t.spoilt, t.spoilt + t.finished) or min(t.to_cut, t.cut, t.spoilt, t.delivered) < 0:
            return f"{code}: {t.let_out} let out, {signed} signed for, {t.spoilt} spoilt, {t.finished} finished"
    released = folder / "out" / "released"
    if begun := [p.name for p in released.iterdir() if p.is_dir() and p.name.startswith(".")]:
        return f"left behind {begun}"
    for aside in (p for p in released.iterdir() if p.is_dir() and p.name.isdecimal()):
        told = json.loads((aside / "manifest.json").read_bytes())
        for file in (f for g in told["released"] for f in g["files"]):
            path = aside / file["name"]
            if path.exists() and hashlib.sha256(path.read_bytes()).hexdigest() != file["sha256"]:
                return f"{aside.name}/{file['name']} is not what was released"
    return ""


def _settled(folder: Path, found: Found, name: str) -> None:
    """Do everything once more, undisturbed: the end has to be that of an undisturbed order."""
    for do in (_run, _sign_sheet, _sign_rows, _release):
        if (ended := _child(folder, do)) not in (0, 1):
            found.ended_wrongly += 1
            found.told.append(f"{name}: afterwards {do.__name__} ended with {ended}")
    entries = _rows(folder)
    if entries is None:
        found.rows_lost += 1
        return
    if told := _wrong_pieces(folder, entries):
        found.pieces_miscounted += 1
        found.told.append(f"{name}: {told}")
    left = [p.name for p in (folder / "out" / "released").glob(".*.part")]
    if left:
        found.partial_files += len(left)
        found.told.append(f"{name}: left behind {left}")


# --- the two --------------------------------------------------------------------------------------------------------


def kills(tries: int, seed: int, *, settle: bool = True, only: str = "") -> Found:
    """Kill that many commands, one after the other, each kind in turn. only: kinds whose names begin with this."""
    names = [name for name in COMMANDS if name.startswith(only)]
    lot, found = random.Random(seed), Found()
    with tempfile.TemporaryDirectory() as base:
        template(Path(base) / "template")
        ready: dict[str, tuple[Path, list[str]]] = {}
        for number in range(tries):
            name = names[number % len(names)]
            before, command = COMMANDS[name]
            if name not in ready:
                fresh = name == "run"  # the very first run
                start = _do_before(Path(base), before, fresh=fresh, earlier="earlier" in name)
                measured = Path(base) / "measured"
                shutil.copytree(start, measured)
                ready[name] = (start, _moments(measured, command))
                shutil.rmtree(measured)
            start, moments = ready[name]
            folder = Path(base) / "killed"
            shutil.copytree(start, folder)
            die_at = lot.randint(1, len(moments))
            had = _rows(folder) or ()
            found.tries += 1
            found.by_command[name] += 1
            if _child(folder, command, die_at=die_at) == -signal.SIGKILL:
                found.killed += 1
                found.moments[moments[die_at - 1]] += 1
            what = f"{name}, killed before {moments[die_at - 1]} ({die_at} of {len(moments)})"
            now = _rows(folder)
            if now is None or now[: len(had)] != had or not _papers_whole(now):
                found.rows_lost += 1
                found.told.append(f"{what}: the ledger is not whole")
            for copy in folder.glob("signoff-schema-1*.sqlite"):
                if len(Ledger(copy).read_entries()) != 6:
                    found.rows_lost += 1
                    found.told.append(f"{what}: the copy of the earlier ledger is not whole")
            found.partial_files += len(partial := list(_partial(folder)))
            found.told += [f"{what}: {file} is partial" for file in partial]
            if settle:
                _settled(folder, found, what)
            shutil.rmtree(folder)
    return found


def _do_before(base: Path, before: tuple[Doing, ...], *, fresh: bool, earlier: bool) -> Path:
    """Return the order after these commands. Commands that begin alike are done once.

    fresh: as nothing but list and order. earlier: with the ledger of the earlier version, which they migrate.
    """
    start = base / "-".join(["start", *(do.__name__ for do in before), *["fresh"] * fresh, *["earlier"] * earlier])
    if start.exists():
        return start
    if before:
        shutil.copytree(_do_before(base, before[:-1], fresh=fresh, earlier=earlier), start)
        _child(start, before[-1])
        return start
    shutil.copytree(base / "template", start)
    if fresh:
        (start / "signoff.sqlite").unlink()
        shutil.rmtree(start / "out")
    if earlier:
        shutil.copy(BEFORE / "signoff.sqlite", start)
        (start / "signoff-schema-1.sqlite").unlink()
    return start


def at_once(tries: int, seed: int) -> Found:
    """Start four commands together on one order that many times."""
    lot, found = random.Random(seed), Found()
    with tempfile.TemporaryDirectory() as base:
        first = template(Path(base) / "template")
        run_order(first, workers=1)
        for _ in range(tries):
            folder = Path(base) / "shared"
            shutil.copytree(first, folder)
            begun = [lot.choice((_sign_sheet, _sign_rows)), _release, lot.choice((_run, _release)), _status]
            lot.shuffle(begun)
            _together(folder, begun, lot, found)
            found.tries += 1
            now = _rows(folder)
            if now is None or not _papers_whole(now) or sum(e.kind == "paper" for e in now) != 2:
                found.rows_lost += 1
                found.told.append(f"{[do.__name__ for do in begun]}: the ledger is not whole")
            found.partial_files += len(partial := list(_partial(folder)))
            found.told += partial
            _settled(folder, found, "four at once")
            shutil.rmtree(folder)
    return found


def marks_at_once(tries: int, seed: int) -> Found:
    """That many times: two that mark the same pieces as cut, and a release; then one piece is spoilt and made again."""
    lot, found = random.Random(seed), Found()
    with tempfile.TemporaryDirectory() as base:
        first = template(Path(base) / "template")
        for do in (_sign_sheet, _release):
            _child(first, do)
        for _ in range(tries):
            folder = Path(base) / "shared"
            shutil.copytree(first, folder)
            begun = [_mark, _mark, _release, _status]
            lot.shuffle(begun)
            _together(folder, begun, lot, found)
            found.tries += 1
            entries = _rows(folder)
            if entries is None:
                found.rows_lost += 1
                found.told.append("two marks at once: the ledger is not whole")
                shutil.rmtree(folder)
                continue
            marked = sum(e.pieces for e in entries if e.kind == "mark")
            if marked != PIECES:
                found.pieces_miscounted += 1
                found.told.append(f"two marks at once: {marked} pieces marked, of {PIECES}")
            if _child(folder, _spoil) or _child(folder, _release):
                found.ended_wrongly += 1
            _settled(folder, found, "two marks at once")
            shutil.rmtree(folder)
    return found


def _together(folder: Path, begun: Sequence[Doing], lot: random.Random, found: Found) -> None:
    children = []
    for do in begun:
        time.sleep(lot.random() * 0.05)
        process = os.fork()
        if not process:
            os._exit(_child(folder, do))
        children.append((do, process))
    for do, process in children:
        ended = os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])
        found.by_command[do.__name__.strip("_")] += 1
        if ended not in (0, 1):
            found.ended_wrongly += 1
            found.told.append(f"{do.__name__} ended with {ended}")


def _on_a_disk(folder: Path, do: Doing, most: int | None) -> tuple[int, str]:
    """Run it in a separate process on a disk that accepts files of at most that many bytes, or with None nothing at
    all; return its exit status and output."""
    read, write = os.pipe()
    process = os.fork()
    if not process:
        os.close(read)
        ended = 3
        try:
            if most is None:
                _refuse_all(folder)
            else:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            with contextlib.redirect_stderr(io.StringIO()):
                try:
                    ended = do(folder)
                except CannotRun as problem:
                    ended = 2
                    os.write(write, str(problem).encode()[:4000])
        except BaseException as error:
            os.write(write, f"{type(error).__name__}: {error}".encode()[:4000])
        finally:
            os._exit(ended)
    os.close(write)
    with os.fdopen(read, "rb") as told:
        said = told.read().decode(errors="replace")
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]), said


def _refuse_all(folder: Path) -> None:
    """From here on, this process sees the folder as on a read-only disk."""
    inside = str(folder)

    def heard(event: str, given: tuple[object, ...]) -> None:
        path = given[0] if given and isinstance(given[0], str | bytes | os.PathLike) else ""
        writes = event in ("os.rename", "os.remove", "os.mkdir") or (
            event == "open" and isinstance(given[2], int) and given[2] & (os.O_WRONLY | os.O_RDWR)
        )
        if writes and os.fsdecode(path).startswith(inside):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), os.fsdecode(path))

    connect = sqlite3.connect

    def read_only(path: object, *given: object, **more: object) -> sqlite3.Connection:
        if str(path).startswith(inside):
            return connect(f"file:{path}?mode=ro", *given, uri=True, **more)  # type: ignore[arg-type,call-overload]
        return connect(path, *given, **more)  # type: ignore[arg-type,call-overload]

    sqlite3.connect = read_only  # type: ignore[assignment]
    sys.addaudithook(heard)


def disks(tries: int, seed: int, *, settle: bool = True) -> Found:
    """Run that many commands on a read-only or full disk, each kind in turn: each ends with a message that names a
    file, nothing is half done, and once there is room everything continues."""
    lot, found = random.Random(seed), Found()
    names = ("mark", "mark as spoilt", "release", "release after marks", "mark, of an earlier version's ledger")
    with tempfile.TemporaryDirectory() as base:
        first = template(Path(base) / "template")
        for number in range(tries):
            name = names[number % len(names)]
            before, command = COMMANDS[name]
            folder = Path(base) / "tried"
            shutil.copytree(first, folder)
            if "earlier" in name:
                shutil.copy(BEFORE / "signoff.sqlite", folder)
                (folder / "signoff-schema-1.sqlite").unlink()
            for do in before:
                _child(folder, do)
            had = _rows(folder) or ()
            most = None if number % 3 == 0 else int(1.3 ** lot.uniform(20, 42))
            ended, said = _on_a_disk(folder, command, most)
            what = f"{name}, on a disk that takes {'nothing' if most is None else f'{most} bytes'}"
            found.tries += 1
            found.by_command[name] += 1
            if ended == 2:
                found.killed += 1
                found.moments["read only" if most is None else "full"] += 1
            if ended not in (0, 1, 2) or (ended == 2 and str(folder) not in said and "/tmp" not in said):
                found.ended_wrongly += 1
                found.told.append(f"{what}: ended with {ended}: {said[:300]}")
            now = _rows(folder)
            if now is None or now[: len(had)] != had or (ended == 2 and not _all_or_nothing(had, now)):
                found.rows_lost += 1
                found.told.append(f"{what}: the ledger is not whole")
            found.partial_files += len(partial := list(_partial(folder)))
            found.told += [f"{what}: {file} is partial" for file in partial]
            if settle:
                _settled(folder, found, what)
            shutil.rmtree(folder)
    return found


def _all_or_nothing(had: tuple[LedgerEntry, ...], now: tuple[LedgerEntry, ...]) -> bool:
    """Return whether a mark is recorded as a whole or not at all."""
    marks = [e for e in now[len(had) :] if e.kind == "mark"]
    return not marks or sum(e.pieces for e in marks) in (1, 3, PIECES)


def main() -> int:
    """Run all of them and print their counts."""
    numbers, only = sys.argv[1:4], sys.argv[4] if len(sys.argv) > 4 else ""
    if not all(map(str.isdecimal, numbers)) or not any(name.startswith(only) for name in COMMANDS):
        sys.exit(f"expected [KILLS] [AT_ONCE] [SEED] [COMMANDS], three numbers and one of: {', '.join(COMMANDS)}")
    many = [*map(int, numbers), *[200, 200, 1][len(numbers) :]]
    begun = time.process_time()
    told: list[tuple[str, Callable[[], Found]]] = [("kills", lambda: kills(many[0], many[2], only=only))]
    if not only:
        told.append(("four at once", lambda: at_once(many[1], many[2])))
    if not only or only == "mark":
        told.append(("two marks at once", lambda: marks_at_once(many[1], many[2])))
        told.append(("disks", lambda: disks(many[1], many[2])))
    for name, look_for in told:
        print(f"{name}: {(found := look_for())}", flush=True)
        if not found.sound:
            return 1
    print(f"{time.process_time() - begun + sum(os.times()[2:4]):.0f} s of processor")
    return 0


if __name__ == "__main__":
    sys.exit(main())
