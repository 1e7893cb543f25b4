"""All pages of the reference by file name."""

from __future__ import annotations

from pathlib import Path

from pipeline.reference import commands_page, findings_page, layers_page, order_keys_page, report_page, shop_keys_page

FOLDER = Path(__file__).resolve().parent
"""The folder of the pages."""

WRITTEN = "<!-- Generated from the code: change it there, then run `python -m pipeline.reference`. -->\n\n"
"""The first line of every page."""


def build_pages() -> dict[str, str]:
    """Return the text of every page, by file name."""
    makers = {
        "commands.md": commands_page.build_page,
        "order-keys.md": order_keys_page.build_page,
        "shop-keys.md": shop_keys_page.build_page,
        "cut-file-layers.md": layers_page.build_page,
        "findings.md": findings_page.build_page,
        "report.md": report_page.build_page,
    }
    return {name: WRITTEN + page().rstrip() + "\n" for name, page in makers.items()}
