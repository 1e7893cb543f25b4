"""Papers draw a piece like its material: dark slate with light letters, metal without grain."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
import pypdfium2
import pytest

from pipeline.core.config.shop_config import OwnMaterial, ShopConfig
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, StockConfig
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.material_look import METAL, TIMBER, PieceLook, choose_look
from pipeline.outputs.shop_sheet.shop_page import ShopPages
from tests.builders import folder, outcome


def look(material: str, shop: ShopConfig | None = None, **tables: Any) -> PieceLook:
    order = folder(stock=StockConfig(material=material), **tables).order
    return choose_look(order if shop is None else order.apply_shop(shop), "timber")


def light(colour: tuple[float, float, float]) -> float:
    return sum(colour) / 3


def test_slate_is_dark_with_light_letters_and_has_no_grain():
    slate = look("Welsh slate")
    assert light(slate.face) < 0.4 and light(slate.cut) > 0.8 and slate.grain is None


def test_metals_have_no_grain_and_wood_has():
    for metal in ("brass", "anodised aluminium", "stainless steel"):
        assert look(metal).grain is None and light(look(metal).face) > 0.7
    assert look("walnut").grain is not None and not look("walnut").across
    size = (BoardSize(length=900.0, width=200.0),)
    assert look("walnut", board=BoardConfig(size=size, grain="across")).across


def test_without_a_material_the_cutter_suggests_it_and_an_unknown_one_is_plain():
    assert choose_look(folder().order, "timber") == TIMBER and choose_look(folder().order, "metal") == METAL
    assert look("horn") == METAL and look("horn").grain is None


def test_the_shop_s_own_look_is_drawn():
    own = ShopConfig(material=(OwnMaterial(name="horn", face="#112233", letters="#FFFFFF"),))
    assert look("horn", own).face == pytest.approx((0x11 / 255, 0x22 / 255, 0x33 / 255))


def pixels(material: str) -> np.ndarray:
    """Draw the builders' blank in a material on a page, as grey values at 72 dpi."""
    run = outcome()
    pen = PaperCanvas(210.0, 297.0)
    book = ShopPages(pen, "test", "")
    key = []
    book.add_picture(
        100,
        lambda x, y: key.append(styles.get_blank_form(pen, run.blank, look(material), 1.0)) or pen.draw_form(key[0]),
    )
    data, _ = book.finish("test", "")
    page = pypdfium2.PdfDocument(BytesIO(data))[0].render(scale=1.0, grayscale=True)
    return page.to_numpy()[..., 0] if page.to_numpy().ndim == 3 else page.to_numpy()


def test_the_material_is_visible_on_the_page():
    """On the page itself: slate has hundreds of dark pixels where brass has none."""
    dark, pale = (int((pixels(material) < 110).sum()) for material in ("slate", "brass"))
    assert dark > 1000 > pale
