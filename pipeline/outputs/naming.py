"""File names that are safe on every system, unique ignoring case, and the same as long as the plaque is the same."""

from __future__ import annotations

import re
import unicodedata

LONGEST = 40
"""Characters of the name's part: with fingerprint, side and ending the whole stays far below any system's limit."""

RESERVED = frozenset(("con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))))
"""Device names that no file may have on Windows, with any ending (published by Microsoft as "Naming Files")."""

SPELT = str.maketrans(
    {"ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "đ": "d", "Đ": "D", "ð": "d",
     "Ð": "D", "þ": "th", "Þ": "Th", "ł": "l", "Ł": "L", "ħ": "h", "Ħ": "H", "ı": "i", "&": " and ", "@": " at "}
)  # fmt: skip


def slug(text: str) -> str:
    """Letters and figures of the Latin alphabet with hyphens between: accents dropped, other scripts left out.

    It only helps a person to find the file; the fingerprint behind it keeps it unique.
    """
    plain = unicodedata.normalize("NFKD", text.translate(SPELT)).encode("ascii", "ignore").decode("ascii").lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain.replace("'", "")).strip("-")
    words = words[:LONGEST].rstrip("-")
    return f"name-{words}" if words in RESERVED else words


def cut_name(text: str, fingerprint: str, side: str = "front", ending: str = "dxf", unit: str = "") -> str:
    """Name of a cut file below the output folder: `cut/name-FINGERPRINT.dxf`.

    side "back" and unit (for formats that cannot carry it inside) are said in the name.
    """
    parts = [slug(text), fingerprint, "back" if side == "back" else "", unit]
    return f"cut/{'-'.join(part for part in parts if part)}.{ending}"
