"""The shop's own folder of fonts: which files count, what they have to meet, and that problems stop only orders using
it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from pipeline.core.environment import own_fonts
from pipeline.core.environment.own_fonts import NO_FONTS, list_own_fonts
from pipeline.core.errors import CannotRun
from pipeline.intake.order.order_file import read_order
from pipeline.job import prepare
from pipeline.lettering.coverage import Coverage
from pipeline.lettering.font_face import Shelf, open_face
from pipeline.order_inputs import read_inputs
from tests.order_keys import BASE, changed, to_toml, write_folder

SIBLINGS = Path(__file__).parent.parent / "reference" / "siblings"


@pytest.fixture
def shop(tmp_path):
    """Return a shop file that names a folder with one font, `Harbour Sans`."""
    (tmp_path / "fonts").mkdir()
    shutil.copy(SIBLINGS / "montserrat-bold.ttf", tmp_path / "fonts/Harbour Sans.ttf")
    (tmp_path / "shop.toml").write_text(to_toml({"shop": {"fonts": "fonts"}}), encoding="utf-8")
    return tmp_path / "shop.toml"


def order_in(shop, face="Harbour Sans"):
    """Write an order in the shop whose first line is set in this typeface."""
    order = write_folder(shop.parent / "order", changed(BASE, [("line.0.face", face)]))
    (order.parent / "shop.toml").unlink()
    return order


def test_fonts_of_the_folder_go_by_their_file_names_without_suffix(shop):
    fonts = shop.parent / "fonts"
    for name in ("Old Style.OTF", "._Harbour Sans.ttf", "read me.txt", "packed.woff2"):
        (fonts / name).write_bytes(b"")
    (fonts / "more.ttf").mkdir()
    found = list_own_fonts(shop, "fonts")
    assert {name: [path.name for path in files] for name, files in found.files.items()} == {
        "Harbour Sans": ["Harbour Sans.ttf"],
        "Old Style": ["Old Style.OTF"],
    }
    assert list_own_fonts(shop, "") is NO_FONTS and list_own_fonts(None, "fonts") is NO_FONTS


def test_a_folder_elsewhere_missing_or_overfull_is_reported(shop, monkeypatch):
    for said in ("..", "/usr/share/fonts", "C:\\\\fonts", "fonts/../..", "a\0b"):
        assert "leads out of the folder of shop.toml" in list_own_fonts(shop, said).problem
    (shop.parent / "linked").symlink_to(shop.parent.parent, target_is_directory=True)
    assert "is a link out of" in list_own_fonts(shop, "linked").problem
    assert "shop.toml: [shop] fonts" in list_own_fonts(shop, "none").problem
    monkeypatch.setattr(own_fonts, "MOST_FILES", 0)
    full = list_own_fonts(shop, "fonts")
    assert "holds 1 font files" in full.problem and not full.files


def test_it_sets_text_as_the_same_file_beside_the_order_does(shop):
    own = open_face("Harbour Sans", shelf=Shelf(own=list_own_fonts(shop, "fonts")))
    beside = open_face("montserrat-bold.ttf", SIBLINGS)
    assert (own.title, own.identity, own.sha256) == (beside.title, beside.identity, beside.sha256)


def test_a_name_shared_by_two_fonts_is_refused_naming_both(shop):
    fonts = shop.parent / "fonts"
    shutil.copy(fonts / "Harbour Sans.ttf", fonts / "oswald.ttf")
    shutil.copy(fonts / "Harbour Sans.ttf", fonts / "Harbour Sans.otf")
    for face, words in (("oswald", r"a face of the shelf and .*oswald\.ttf"), ("Harbour Sans", r"\.otf and .*\.ttf")):
        with pytest.raises(CannotRun, match=words):
            read_order(order_in(shop, face), faces=Shelf().names)
        with pytest.raises(CannotRun, match=words):
            open_face(face, shelf=Shelf(own=list_own_fonts(shop, "fonts")))
    assert read_order(order_in(shop, "noto-sans"), faces=Shelf().names)


def test_a_fault_of_folder_or_font_stops_only_orders_that_use_it(shop):
    fonts = shop.parent / "fonts"
    (fonts / "torn.ttf").write_bytes((fonts / "Harbour Sans.ttf").read_bytes()[:2000])
    if hasattr(os, "mkfifo"):
        os.mkfifo(fonts / "pipe.ttf")
    shelf = Shelf(own=list_own_fonts(shop, "fonts"))
    for name in ("torn", "pipe") if hasattr(os, "mkfifo") else ("torn",):
        with pytest.raises(CannotRun, match=rf"order\.toml: face: .*{name}\.ttf.*shop\.toml: \[shop\] fonts"):
            open_face(name, shelf=shelf, where="order.toml: face")
    able = Coverage(shelf).find_faces("HARBOU")
    assert "Harbour Sans" in able and not {"torn", "pipe"} & set(able)
    shutil.rmtree(fonts)
    with pytest.raises(CannotRun, match=r"no face “Harbour Sans” on the shelf, and .*fonts.*cannot be read"):
        read_order(order_in(shop), faces=Shelf().names)
    assert read_order(order_in(shop, "noto-sans"), faces=Shelf().names)


def test_a_cached_plaque_is_used_only_while_the_fonts_are_the_same(shop):
    def key():
        inputs = read_inputs(order, fresh=True)
        return prepare(inputs.folder, inputs.blank, inputs.cache, inputs.client).compute_key()

    order = order_in(shop)
    first = key()
    assert key() == first
    shutil.copy(SIBLINGS / "cinzel-bold.ttf", shop.parent / "fonts/Other.ttf")  # advice may name it
    assert key() != first
    (shop.parent / "fonts/Other.ttf").unlink()
    shutil.copy(SIBLINGS / "oswald-bold.ttf", shop.parent / "fonts/Harbour Sans.ttf")
    assert key() != first
