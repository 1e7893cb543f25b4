"""An order archived, moved elsewhere, checked there and run again; archives that were altered."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from pipeline.cli import main
from pipeline.commands.afterwards.archive_command import check_archive
from pipeline.core.errors import CannotRun
from pipeline.core.storage.safe_archive import pack_files
from pipeline.lettering.shelf import Shelf
from tests.signoff.test_parts import ORDER

SIBLINGS = Path(__file__).parent.parent / "reference" / "siblings"


@pytest.fixture(scope="module")
def let_out(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("shop") / "wardens"
    folder.mkdir()
    (folder / "order.toml").write_text(ORDER, encoding="utf-8")
    (folder / "list.csv").write_text("Recipient\nAda Kittiwake\nBo Tern\n", encoding="utf-8")
    (folder.parent / "shop.toml").write_text('[shop]\nname = "Kelp Lane Workshop"\n', encoding="utf-8")
    assert main(["run", str(folder), "--workers", "1"]) == 0
    assert main(["sign", str(folder), "--rows", "2-3", "--by", "Rowan Petrel", "--on", "2 May 2026"]) == 0
    assert main(["release", str(folder)]) == 0
    return folder


@pytest.fixture
def order(let_out: Path, tmp_path: Path) -> Path:
    shutil.copytree(let_out.parent, tmp_path, dirs_exist_ok=True)
    return tmp_path / "wardens"


def rewritten(archive: Path, target: Path, **changed: bytes | None) -> Path:
    """Return the archive with other files, by name with __ for a slash; None removes one."""
    with zipfile.ZipFile(archive) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    for name, data in changed.items():
        key = next(n for n in [*files, name.replace("__", "/")] if n.replace("/", "__").replace(".", "_") == name)
        files = {n: d for n, d in files.items() if n != key} | ({} if data is None else {key: data})
    target.write_bytes(pack_files(files))
    return target


def test_an_archive_runs_elsewhere_and_reports_whether_it_would_be_cut_the_same(order, tmp_path, capsys):
    file = tmp_path / "kept.zip"
    assert main(["archive", str(order), "--to", str(file)]) == 0
    first = file.read_bytes()
    assert main(["archive", str(order), "--to", str(file)]) == 0 and file.read_bytes() == first
    capsys.readouterr()
    cut = {p.name: p.read_bytes() for p in (order / "out" / "cut").glob("*.dxf")}
    shutil.rmtree(order)  # only the archive is left
    assert main(["check", str(file)]) == 0
    assert "all 2 designs are unchanged" in capsys.readouterr().out
    elsewhere = tmp_path / "years" / "later"
    with zipfile.ZipFile(file) as packed:
        names = packed.namelist()
        packed.extractall(elsewhere)
    assert {"order/order.toml", "order/list.csv", "order/shop.toml", "order/signoff.sqlite"} <= set(names)
    assert {"order/sent/proof-A.pdf", "order/out/released/cut-list.xlsx"} <= set(names)
    assert "fonts/eb-garamond/LICENSE.txt" in names
    assert main(["run", str(elsewhere / "order"), "--workers", "1"]) == 0
    assert {p.name: p.read_bytes() for p in (elsewhere / "order" / "out" / "cut").glob("*.dxf")} == cut
    assert main(["status", str(elsewhere / "order")]) == 0
    assert "2 to cut" in capsys.readouterr().out


def test_an_archive_that_was_altered_is_refused_and_one_of_another_design_told(order, tmp_path, capsys):
    file = tmp_path / "kept.zip"
    assert main(["archive", str(order), "--to", str(file)]) == 0
    capsys.readouterr()
    for changed, words in (
        ({"order__list_csv": b"Recipient\nAda Kittiwakes\n"}, "not the file that was archived"),
        ({"order__list_csv": None}, "or is missing"),
        ({"archive_json": b"[]"}, "cannot be read"),
        ({"archive_json": None}, "no archive.json"),
    ):
        assert main(["check", str(rewritten(file, tmp_path / "bad.zip", **changed))]) == 2
        assert words in capsys.readouterr().err
    (tmp_path / "none.zip").write_bytes(b"PK\x03\x04 nothing")
    assert main(["check", str(tmp_path / "none.zip")]) == 2
    assert "damaged" in capsys.readouterr().err
    with zipfile.ZipFile(file) as packed:  # as if a later tool set it differently: the archive names another design
        told = json.loads(packed.read("archive.json"))
    told["designs"][0]["fingerprint"] = "3479CDFHJK"
    other = rewritten(file, tmp_path / "other.zip", archive_json=json.dumps(told).encode())
    assert main(["check", str(other)]) == 1
    assert "1 of 2 designs differ" in capsys.readouterr().out


def test_history_lists_events_with_the_hashes_of_files(order, capsys):
    assert main(["mark", str(order), "cut", "--rows", "2", "--by", "Wren", "--note", "test cut was fine"]) == 0
    assert main(["sign", str(order), "--void", "3", "--by", "Wren", "--note", "wrong job"]) == 0
    capsys.readouterr()
    assert main(["history", str(order)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for words in ("order begun", "proof A made: 2 designs", "2 agreed, by Rowan Petrel", "released: 2 pieces",
                  "1 to cut → cut, by Wren (test cut was fine)", "row 3 no longer counts, by Wren",
                  "(wrong job)"):  # fmt: skip
        assert words in told, told
    assert main(["history", str(order), "--json"]) == 0
    events = json.loads(capsys.readouterr().out)["events"]
    files = {f["name"]: f["sha256"] for e in events for f in e["files"]}
    for name in ("sent/proof-A.pdf", *(f"out/released/{p.name}" for p in (order / "out" / "released").glob("*.dxf"))):
        data = (order / name).read_bytes()
        assert hashlib.sha256(data).hexdigest() in (files.get(name), files.get(Path(name).name))
    assert any(e["voided"] for e in events)


@pytest.mark.parametrize(
    "change",
    [
        {"title": None},
        {"title": 5},
        {"left_out": 5},
        {"left_out": [5]},
        {"tool": []},
        {"designs": 5},
        {"designs": [5]},
        {"designs": [{"fingerprint": "3479CDFHJK", "text": 5, "files": {}}]},
        {"designs": [{"fingerprint": "3479CDFHJK", "text": "Ada", "files": {}}]},
        {"designs": [{"fingerprint": "3479CDFHJK", "text": [None], "files": {}}]},
        {"designs": [{"fingerprint": "3479CDFHJK", "text": [], "files": {"a": 5}}]},
        {"designs": [{"fingerprint": "\x1b[31m", "text": [], "files": {}}]},
        {"files": 5},
        {"files": {"order/order.toml": 5}},
        {"order_file": "other.toml"},
        {"order_file": ["order.toml"]},
        {"order_file": "../../etc/passwd"},
        {"schema": None},
        {"schema": 2},
    ],
)
def test_a_malformed_list_of_contents_is_reported(tmp_path, change):
    """None of it reaches the order. A value of None removes the key."""
    sound = {
        "schema": 1, "tool": "1.0", "title": "Plates", "order_file": "order.toml", "left_out": [],
        "designs": [{"fingerprint": "3479CDFHJK", "text": ["Ada"], "files": {"cut/a.dxf": "0" * 64}}],
        "files": {"order/order.toml": hashlib.sha256(b"title").hexdigest()},
    }  # fmt: skip
    told = {key: value for key, value in (sound | change).items() if value is not None}
    file = tmp_path / "bad.zip"

    def never(order, out):
        raise AssertionError(order)

    file.write_bytes(pack_files({"archive.json": json.dumps(told).encode(), "order/order.toml": b"title"}))
    with pytest.raises(CannotRun) as caught:
        check_archive(file, say=print, look=never)
    (fault,) = caught.value.faults
    assert fault.where.endswith("bad.zip")
    assert "archive.json" in fault.found or "another version" in fault.found
    assert "\x1b" not in str(caught.value)
    file.write_bytes(pack_files({"archive.json": json.dumps(sound).encode(), "order/order.toml": b"title"}))
    with pytest.raises(AssertionError, match=r"order\.toml"):
        check_archive(file, say=print, look=never)


def test_everything_an_order_is_made_of_is_archived_and_cut_the_same_on_another_machine(tmp_path, capsys):
    folder = tmp_path / "crew"
    (folder / "badges").mkdir(parents=True)
    artwork = '[[artwork]]\nfile = "badges/{badge}.svg"\nat = [15.0, 30.0]\nheight = 5.0\n'
    columns = 'columns = { name = "Recipient", badge = "Badge" }\n'
    text = ORDER.replace('columns = { name = "Recipient" }\n', columns) + artwork
    text = text.replace('file = "list.csv"\n', 'file = "list.csv"\nmore = ["lists/late, crew.csv"]\n')
    text = text.replace('face = "eb-garamond"', 'face = "Own Face.ttf#0"')
    (folder / "order.toml").write_text(text, encoding="utf-8")
    (folder / "list.csv").write_text("Recipient,Badge\nAda Kittiwake,oar\nBo Tern,Anchor\nCy,\nDee,none\n", "utf-8")
    (folder / "lists").mkdir()
    (folder / "lists" / "late, crew.csv").write_text("Badge;Recipient\noar;Ed Gull\n", "utf-8")
    face = Shelf()["eb-garamond"]
    (folder / "Own Face.ttf").write_bytes(face.read())
    for name in ("oar", "anchor", "of nobody"):
        square = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0H9V9H0z"/></svg>'
        (folder / "badges" / f"{name}.svg").write_text(square)
    resin = '[[resin]]\nname = "clear"\ndata_sheet = "sheets/clear.pdf"\n\n[[resin]]\nname = "blue"\n'
    (tmp_path / "shop.toml").write_text(resin + 'data_sheet = "Blue, leaflet of 2024"\n', encoding="utf-8")
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "clear.pdf").write_bytes(b"%PDF-1.4 the values of clear")
    file = tmp_path / "kept.zip"
    assert main(["archive", str(folder), "--to", str(file)]) == 0
    with zipfile.ZipFile(file) as packed:
        names = set(packed.namelist())
    assert {"order/badges/oar.svg", "order/badges/anchor.svg", "order/sheets/clear.pdf"} <= names
    assert {"order/lists/late, crew.csv", "order/Own Face.ttf", "order/shop.toml"} <= names
    assert not [name for name in names if "nobody" in name]
    shutil.rmtree(folder)
    # another machine: empty cache, another home, language and time zone, and asserts removed
    elsewhere = {"PATH": os.environ["PATH"], "HOME": str(tmp_path / "home"), "XDG_CACHE_HOME": str(tmp_path / "cache")}
    elsewhere |= {"LC_ALL": "C", "LANG": "tr_TR.ISO-8859-9", "TZ": "Pacific/Kiritimati"}
    file.chmod(0o444)
    done = subprocess.run(
        [sys.executable, "-OO", "-m", "pipeline", "check", str(file), "--json"],
        check=False, env=elsewhere, cwd=Path(__file__).parents[2], capture_output=True, text=True, encoding="utf-8",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert [d["text"] for d in told["same"]] == [["Ada Kittiwake"], ["Bo Tern"], ["Cy"], ["Ed Gull"]]
    assert not told["other_files"] and not told["gone"] and not told["left_out"]


def test_a_shop_s_own_font_is_archived_if_its_licence_allows(tmp_path, capsys):
    fonts = tmp_path / "fonts"
    fonts.mkdir()
    shutil.copy(Shelf()["oswald"].path, fonts / "Tall.ttf")  # its name table states that it is free
    shutil.copy(SIBLINGS / "eb-garamond-bold.ttf", fonts / "unused.ttf")
    with TTFont(fonts / "Tall.ttf") as font:
        for record in (13, 14):
            font["name"].removeNames(nameID=record)
        font.save(fonts / "Closed.ttf")
    (tmp_path / "shop.toml").write_text('[shop]\nfonts = "fonts"\n', encoding="utf-8")
    folder = tmp_path / "wardens"
    folder.mkdir()
    text = ORDER.replace('"eb-garamond"', '"Tall"\nalso = ["Closed"]')
    (folder / "order.toml").write_text(text, encoding="utf-8")
    (folder / "list.csv").write_text("Recipient\nAda Kittiwake\n", encoding="utf-8")
    assert main(["archive", str(folder), "--to", str(tmp_path / "kept.zip")]) == 0
    assert "fonts/Closed.ttf: its licence does not say that the font may be passed on" in " ".join(
        capsys.readouterr().out.split()
    )
    with zipfile.ZipFile(tmp_path / "kept.zip") as packed:
        names = packed.namelist()
    assert [name for name in names if "fonts" in name] == ["order/fonts/Tall.ttf"]
