"""Every key of the shop file, taken from the models themselves, with values to try: a shop file in which each key
has a meaning for the small order of `tests/order_keys.py`, and for each key other valid values.

A new key without values here fails `tests/intake/order/test_shop_file.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.core.config.shop_config import ShopConfig
from tests.order_keys import OUT, Change, Raw, changed, order_keys

SHOP: Raw = {
    "units": "mm",
    "shop": {
        "name": "Saltmarsh Workshop",
        "contact": "bench@saltmarsh.example",
        "return_to": "proofs@saltmarsh.example",
        "paper": "A4",
        "language": "en",
    },
    "rates": {"currency": "EUR", "hour": 33.0, "machine_hour": 21.0, "stock_price": 88.0, "resin_price": 41.0},
    "labels": {"columns": 2, "rows": 5},
    "cutter": [{"name": "own-bit", "kind": "v-bit", "angle": 60.0, "tip": 0.1, "diameter": 6.0}],
    "material": [{"name": "reclaimed oak", "like": "oak", "face": "#888888", "letters": "#111111"}],
    "measured": [{"cutter": "own-bit", "material": "walnut", "stroke": 0.25, "land": 0.2}],
    "resin": [
        {
            "name": "clear",
            "data_sheet": "Sheet of an invented resin",
            "density": 1.12,
            "by_volume": [2.0, 1.0],
            "by_weight": [100.0, 45.0],
            "layer": 30.0,
        }
    ],
}
USES: tuple[Change, ...] = (
    ("proof", OUT),
    ("rates", OUT),
    ("labels", OUT),
    ("cutter", {"use": "own-bit"}),
    ("pour", {"use": "clear", "fills": "pocket"}),
)
"""What makes the small order take its values from the shop file."""

_RATES = {
    "rpm": 16000.0,
    "surface_speed": 90.0,
    "flutes": 1,
    "chip_load": 0.06,
    "fastest": 2500.0,
    "feed": 800.0,
    "plunge": 250.0,
}
_RATES |= {"lift": 2.0, "change": 4.0, "setup": 15.0, "fixing": 7.0, "saw_cut": 1.0, "fence": 2.0, "mixing": 9.0}
_RATES |= {"sanding": 10.0, "finishing": 5.0, "packing": 2.0, "currency": "GBP", "hour": 34.0, "machine_hour": 22.0}
_RATES |= {"stock_price": 80.0, "resin_price": 43.0}
_LABELS = {"paper": "letter", "columns": 3, "rows": 6, "width": 60.0, "height": 36.0, "left": 8.0, "top": 14.0}
_LABELS |= {"across": 64.0, "down": 37.0}
_IDENTITY = {
    "name": "Other Workshop",
    "contact": "x@y.example",
    "return_to": "z@y.example",
    "telephone": "01 234",
    "paper": "letter",
    "fonts": "fonts",
}
_CUTTER = {
    "name": "other-bit",
    "angle": 70.0,
    "tip": 0.05,
    "diameter": 5.0,
    "reach": 11.0,
    "source": "the maker's list",
}
_RESIN = {"name": "blue", "data_sheet": "Another sheet", "density": 1.15, "by_volume": [3.0, 1.0], "layer": 5.0}
_RESIN |= {"by_weight": [100.0, 40.0], "working_time": 200.0, "largest_mix": 800.0, "between_layers": 10.0}
_RESIN |= {"demould": 40.0, "machine": 90.0}

_MATERIAL = {"name": "pale oak", "like": "slate", "bought": "slab", "operations": ["saw", "sand"], "grain": False}
_MATERIAL |= {"pass_v_bit": 2.0, "pass_end_mill": 0.4, "pass_point": 0.1, "chip_load": [0.01, 0.02], "floor": 4.0}
_MATERIAL |= {"finish": "wax", "hazard": "Old nails.", "face": "#777777", "letters": "#000000"}

_MEASURED = {"cutter": "vbit-60", "material": "slate", "stroke": 0.3, "land": 0.4, "source": "an own trial"}

VALUES: Mapping[str, Any] = (
    {"units": "in"}
    | {f"shop.{key}": value for key, value in (_IDENTITY | {"language": "en"}).items()}
    | {f"rates.{key}": value for key, value in _RATES.items()}
    | {f"labels.{key}": value for key, value in _LABELS.items()}
    | {f"cutter.{key}": value for key, value in (_CUTTER | {"kind": "laser", "kerf": 0.1}).items()}
    | {f"material.{key}": value for key, value in _MATERIAL.items()}
    | {f"measured.{key}": value for key, value in _MEASURED.items()}
    | {f"resin.{key}": value for key, value in _RESIN.items()}
)
"""For each key another value than `SHOP` has."""

_NEEDS: Mapping[str, tuple[Change, ...]] = {
    "cutter.kind": (("cutter.0.kerf", 0.12),),
    "cutter.kerf": (("cutter.0.kind", "laser"), ("cutter.0.kerf", 0.12)),
}
_LISTS = ("cutter", "material", "measured", "resin")


def shop_keys() -> tuple[str, ...]:
    """Return every key of the shop file, in the models' order."""
    return order_keys(ShopConfig)


def shop_with(key: str) -> tuple[Raw, Raw]:
    """Return the shop file before and after a key gets its other value."""
    before = changed(SHOP, _NEEDS.get(key, ()))
    table, _, rest = key.partition(".")
    place = f"{table}.0.{rest}" if table in _LISTS else key
    return before, changed(before, [(place, VALUES[key])])
