"""Thousands of damaged lists: whatever the bytes, a list is read with all rows accounted for, or refused with a
message.

`mutants` generates them from a fixed seed; `check` applies the rule to one, `check_start` applies it to an order
started from it. For longer runs, which save what fails and report where:

    python tests/intake/fuzz_lists.py --minutes 5 [SEED]
    python tests/intake/fuzz_lists.py --atheris -max_total_time=600    (`pip install atheris`: coverage-guided)
"""

from __future__ import annotations

import io
import random
import sys
import tempfile
import time
import tomllib
import traceback
import zipfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import odfdo  # noqa: F401 - read here once, and not in each of the thousands of processes
import openpyxl
import python_calamine  # noqa: F401
import pyxlsb  # noqa: F401
import xlrd  # noqa: F401

from pipeline.core import catalogue
from pipeline.core.config.order import ListConfig
from pipeline.core.errors import CannotRun
from pipeline.intake.new_order import plan_order
from pipeline.intake.new_order_text import write_order_text
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet import ReadOptions
from tests.intake.one_list import read_one_list

LISTS = Path(__file__).resolve().parent / "lists"
PART = ListConfig(file="x", columns={"name": "Recipient", "post": "Post", "copies": "How many"})


def seeds() -> dict[str, bytes]:
    """Return small valid lists, one of each format."""
    book = openpyxl.Workbook()
    rows = [("Keepers",), ("Recipient", "Post", "How many"), ("Ada Skua", "Warden", 1), ("Björn Tern", "Cook", 2)]
    rows += [("Łucja  Auk", 2026, "two"), (None, "Cook", 1), ("Total", None, 5)]
    for row in rows:
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    text = "\n".join(";".join("" if c is None else str(c) for c in row) for row in rows)
    return {
        "a.xlsx": file.getvalue(),
        "a.ods": (LISTS / "keepers.ods").read_bytes(),
        "a.xlsb": (LISTS / "keepers.xlsb").read_bytes(),
        "a.xls": (LISTS / "keepers.xls").read_bytes(),
        "a.csv": text.encode(),
        "b.csv": text.encode("cp1252", "replace"),
        "c.csv": text.encode("utf-16"),
        "a.txt": b"Recipient\nAda Skua\nBo Tern\n",
    }


PIECES = (
    b"\0", b"\xff", b"<", b">", b'"', b"&amp;", b"_xD800_", b"\xed\xa0\x80", b"\r\n", b";", b"\t", b"=1+1", b"#REF!",
    b"99999999999", b"-1", b'r="XFD1048576"', b't="e"', b"<f>", b"\xe2\x80\xae", b"Recipient", b"NaN", b"1e999",
)  # fmt: skip


def changed(data: bytes, dice: random.Random) -> bytes:
    """Damage a few of the bytes."""
    out = bytearray(data)
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(out) + 1)
        match dice.randrange(5):
            case 0 if out:
                out[min(at, len(out) - 1)] = dice.randrange(256)
            case 1:
                out[at:at] = dice.choice(PIECES)
            case 2:
                del out[at : at + dice.randint(1, 40)]
            case 3:
                out[at:at] = out[at : at + dice.randint(1, 200)]
            case _:
                piece = dice.choice(PIECES)
                out[at : at + len(piece)] = piece
    return bytes(out)


def inside(data: bytes, dice: random.Random) -> bytes:
    """Damage a member of an archive and pack it again, so that the damage isn't caught by the archive's checksums."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        parts = [part for part in old.infolist() if part.filename.endswith((".xml", ".rels", ".bin"))]
        chosen = dice.choice(parts).filename
        for part in old.infolist():
            content = old.read(part)
            new.writestr(part.filename, changed(content, dice) if part.filename == chosen else content)
    return out.getvalue()


def mutants(count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """Yield file names and damaged bytes."""
    dice = random.Random(seed)
    sound = seeds()
    names = list(sound)
    for _ in range(count):
        name = dice.choice(names)
        data = sound[name]
        packed = name.endswith((".xlsx", ".xlsb", ".ods"))
        yield name, inside(data, dice) if packed and dice.random() < 0.8 else changed(data, dice)


def check(name: str, data: bytes, folder: Path) -> str:
    """Return "read" or "refused". AssertionError, or whatever was raised, when it is neither."""
    path = folder / name
    path.write_bytes(data)
    try:
        if name.endswith(".txt"):
            done = read_one_list(read_sheet(path, ReadOptions()), ListConfig(file="x"), ["name"])
        else:
            done = read_one_list(read_sheet(path, ReadOptions()), PART, ["name", "post"])
    except CannotRun as problem:
        assert all(fault.where and fault.found for fault in problem.faults)
        assert str(path) in str(problem)
        return "refused"
    finally:
        assert path.read_bytes() == data
    rows = [a.row for a in done.account]
    assert len(rows) == len(set(rows)) == done.rows
    assert {a.row for a in done.account if a.fate != "left-out"} == {r.row for r in done.recipients}
    for recipient in done.recipients:
        for key, value in recipient.values:
            value.encode("utf-8")  # no lone surrogates
            assert key == "copies" or value.isprintable() or not value.isascii()
        assert 0 < recipient.copies <= 500
    for finding in (*done.findings, *(f for r in done.recipients for f in r.findings)):
        catalogue.format_message(finding).encode("utf-8")
    return "read"


def check_start(name: str, data: bytes, folder: Path) -> str:
    """Check an order started from the list: it is refused, or its text is an order that reads the list."""
    path = folder / name
    path.write_bytes(data)
    try:
        order = tomllib.loads(write_order_text(plan_order(path)))
    except CannotRun as problem:
        assert str(path) in str(problem)
        return "refused"
    part = ListConfig.model_validate(order["list"])
    sheet = read_sheet(path, ReadOptions(sheet=part.sheet))
    done = read_one_list(sheet, part, [key for key in part.columns if key not in ("copies", "language")])
    assert sorted(a.row for a in done.account) == [row.number for row in sheet.rows]
    return "begun"


def main(count: int, seed: int) -> Counter[str]:
    """Check that many, and start an order from every tenth; return the tally by format."""
    tally: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for number, (name, data) in enumerate(mutants(count, seed)):
            try:
                tally[f"{name} {check(name, data, Path(folder))}"] += 1
                if number % 10 == 0:
                    check_start(name, data, Path(folder))
            except BaseException:
                print(f"number {number} of seed {seed}: {name}", file=sys.stderr)
                raise
    return tally


def for_minutes(minutes: float, seed: int) -> int:
    """Run both checks until the time is over. Print each fault once, with the file that shows it; return their
    number."""
    end = time.monotonic() + 60 * minutes
    kept = Path(tempfile.mkdtemp(prefix="fuzz-lists-"))
    faults: dict[str, str] = {}
    tally: Counter[str] = Counter()
    while time.monotonic() < end:
        for number, (name, data) in enumerate(mutants(200, seed)):
            for one in (check, check_start):
                try:
                    tally[one(name, data, kept)] += 1
                except Exception as error:
                    frame = traceback.extract_tb(error.__traceback__)[-1]
                    place = f"{type(error).__name__} in {frame.filename.rpartition('/')[2]}:{frame.lineno}"
                    if place not in faults:
                        faults[place] = f"{seed}-{number}-{name}"
                        (kept / faults[place]).write_bytes(data)
                        print(f"{place}: {error!r:.200}  -> {kept / faults[place]}", flush=True)
        seed += 1
    print(dict(tally), f"{len(faults)} faults, next seed {seed}")
    return len(faults)


PARTS = {"a.xlsx": "xl/worksheets/sheet1.xml", "a.ods": "content.xml", "a.xlsb": "xl/worksheets/sheet1.bin"}
"""Of a packed list the part that holds the rows: damage anywhere else is mostly a damaged archive."""


def with_atheris() -> None:
    """Run coverage-guided until stopped. The first byte selects the format, the others are its rows."""
    import atheris

    folder = Path(tempfile.mkdtemp())
    sound = seeds()
    names = list(sound)
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, name in enumerate(names):
        content = sound[name]
        if name in PARTS:
            with zipfile.ZipFile(io.BytesIO(content)) as packed:
                content = packed.read(PARTS[name])
        (corpus / name).write_bytes(bytes([number]) + content)

    def whole(name: str, content: bytes) -> bytes:
        if name not in PARTS:
            return content
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(sound[name])) as old, zipfile.ZipFile(out, "w") as new:
            for part in old.infolist():
                new.writestr(part.filename, content if part.filename == PARTS[name] else old.read(part))
        return out.getvalue()

    def one(data: bytes) -> None:
        if data:
            name = names[data[0] % len(names)]
            check(name, whole(name, data[1:]), folder)
            check_start(name, whole(name, data[1:]), folder)

    for name, module in list(sys.modules.items()):
        if name.startswith("pipeline.intake"):
            for word, made in list(vars(module).items()):
                if getattr(made, "__module__", "") == name and hasattr(made, "__code__"):
                    setattr(module, word, atheris.instrument_func(made))
    atheris.Setup([a for a in sys.argv if a != "--atheris"] + [str(corpus)], one)
    atheris.Fuzz()


if __name__ == "__main__":
    if "--atheris" in sys.argv:
        with_atheris()
    elif "--minutes" in sys.argv:
        raise SystemExit(bool(for_minutes(float(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 1)))
    else:
        print(main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1))
