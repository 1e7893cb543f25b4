"""A drawing is read once and then comes from the cache, unless anything about it has changed."""

import dataclasses
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
from drawings import plate

from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.core.storage import cache_key
from pipeline.core.storage.cache import Cache
from pipeline.intake.drawing import blank_drawing

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def folder(tmp_path):
    doc, space = plate()
    space.add_ellipse((50, 30), (20, 0), 0.5, dxfattribs={"layer": "KEEP_OUT"})
    space.add_circle((98, 30), 5, dxfattribs={"layer": "POCKET"})
    space.add_circle((5, 5), 1, dxfattribs={"layer": "EDGE"})
    space.add_text("x", dxfattribs={"layer": "EDGE"})
    doc.saveas(tmp_path / "plate.dxf")
    return tmp_path


def order(folder, **blank):
    raw = {
        "title": "t",
        "list": {"file": "l.xlsx"},
        "blank": {"drawing": "plate.dxf", "thickness": 3.0, **blank},
        "line": [{"text": "x", "face": "f", "cap_height": 5.0}],
    }
    return OrderFolder(order=Order.model_validate(raw), folder=folder, file=folder / "order.toml", sha256="0")


def plain(found):
    blank, findings = found
    flat = {f.name: getattr(blank, f.name) for f in dataclasses.fields(blank)}
    chains = [flat.pop("edge"), *flat.pop("keep_outs"), *flat.pop("pockets"), *flat.pop("holes")]
    chains += [zone for _, zone in flat.pop("zones")]
    return flat, [c.vertices.tobytes() for c in chains], findings


def no_reading(monkeypatch):
    def fail(*_, **__):
        raise AssertionError("the drawing was read again")

    monkeypatch.setattr(blank_drawing, "read_contours", fail)


def first(folder, **blank):
    cache = Cache(folder / "cache")
    found = blank_drawing.read_blank(order(folder, **blank), cache)
    cache.close()
    return found


def test_the_second_time_it_comes_from_the_cache_bit_for_bit(folder, monkeypatch):
    fresh = blank_drawing.read_blank(order(folder))
    made = first(folder)
    no_reading(monkeypatch)
    again = blank_drawing.read_blank(order(folder), Cache(folder / "cache"))
    assert plain(again) == plain(made) == plain(fresh)
    assert [f.code for f in again[1]] == ["drawing.ignored", "drawing.pocket-outside"]


def test_a_cached_drawing_is_checked_with_the_current_margin(folder):
    first(folder)
    with pytest.raises(CannotRun, match="smaller than twice its margin"):
        blank_drawing.read_blank(order(folder, margin=20.0), Cache(folder / "cache"))


@pytest.mark.parametrize("change", ["drawing", "layers", "gap", "units", "thickness", "name", "version", "damage"])
def test_a_changed_drawing_is_read_again(folder, change, monkeypatch):
    first(folder)
    blank = {}
    match change:
        case "drawing":
            data = (folder / "plate.dxf").read_text()
            (folder / "plate.dxf").write_text("999\na remark\n" + data)
        case "layers":
            blank = {"layers": {"pocket": "POCKET"}}
        case "thickness":
            blank = {"thickness": 7.0}
        case "units":  # of the order: messages show lengths in it
            blank = {"drawing_units": "mm"}
        case "gap":
            blank = {"gap": 0.06}
        case "name":
            (folder / "other.dxf").write_bytes((folder / "plate.dxf").read_bytes())
            blank = {"drawing": "other.dxf"}
        case "version":
            monkeypatch.setattr(cache_key, "build_key", lambda: "another")
        case "damage":
            (file,) = (folder / "cache").iterdir()
            data = bytearray(file.read_bytes())
            data[data.index(b"plate.dxf", 4096)] ^= 1
            file.write_bytes(data)
    read = []
    own = blank_drawing.read_contours
    monkeypatch.setattr(blank_drawing, "read_contours", lambda *a, **k: (read.append(1), own(*a, **k))[1])
    blank_drawing.read_blank(order(folder, **blank), Cache(folder / "cache"))
    assert read == [1]


def test_a_warm_start_does_not_import_the_drawing_library(folder):
    script = (
        "import sys; from pathlib import Path; sys.path[:0] = ['.', 'tests/intake']\n"
        "from pipeline.core.storage.cache import Cache; from pipeline.core.config.order import Order, OrderFolder\n"
        "from pipeline.intake.drawing.blank_drawing import read_blank\n"
        "folder = Path(sys.argv[1])\n"
        "raw = {'title': 't', 'list': {'file': 'l.xlsx'}, 'blank': {'drawing': 'plate.dxf'},"
        " 'line': [{'text': 'x', 'face': 'f', 'cap_height': 5.0}]}\n"
        "order = OrderFolder(order=Order.model_validate(raw), folder=folder, file=folder / 'order.toml', sha256='0')\n"
        "cache = Cache(folder / 'cache'); read_blank(order, cache); cache.close()\n"
        "print('ezdxf' in sys.modules)\n"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", script, folder], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(2)
    ]
    assert runs == ["True\n", "False\n"]
