"""shop-keys.md: every key of the shop file, from the models and the docstrings below their keys."""

from __future__ import annotations

from pipeline.core.config.shop_config import ShopConfig
from pipeline.reference.order_keys_page import build_section, list_tables

HEAD = """# Keys of the shop file

`shop.toml` holds what is the same in every order of your shop. It is TOML 1.0, with the same limits as `order.toml`
(order-keys.md): unknown keys are refused by name, and all faults are reported at once. Every length is in the file's
own unit; defaults and limits below are in mm. `plaques start --shop FOLDER` writes a first one.

The first `shop.toml` found going up from the order folder is used, the order folder itself included, no farther than
your home folder. It is never merged with another. From an order outside your home folder the search goes up to the top
of the drive, and passes over folders that every user of the machine may write to.

What an order says wins, key by key. Prices count only for orders in the same currency. `report.json` tells which values
came from the shop file, and the papers say it beside them. A change of the shop file is a change of the order: what it
alters in the finished piece has to be signed anew.
"""
COLUMNS = ("key", "value", "default", "for")


def build_page() -> str:
    """Return the page."""
    return "\n".join([HEAD, *(build_section(headed, COLUMNS) for headed in list_tables(ShopConfig))])
