"""Names of cut files: the recipient's name in plain letters, then the fingerprint; an inserted row renames nothing.

ASCII letters, digits and hyphens only, in small letters apart from the fingerprint: safe on every file system, in every
archive and on every machine controller. Two names can never clash by case alone, since the fingerprint (capitals and
digits) tells designs apart; it also keeps a name from being a reserved device name (CON, NUL, COM1 …) and from ending
in a dot or a space.
"""

from __future__ import annotations

import re
from functools import lru_cache

from anyascii import anyascii

LONGEST = 48
"""Characters of the recipient's name that are kept: with folder, fingerprint and ending a name stays under 100, far
from the 255 a file name may have and the 260 of a whole path on older systems."""

NAMELESS = "plaque"
"""Stands for a name without a letter or digit."""


@lru_cache(maxsize=256)
def build_file_slug(name: str) -> str:
    """A name in small ASCII letters, digits and hyphens; other scripts are written in Latin letters as well as it goes.

    Never empty, at most `LONGEST` characters, cut between words where that keeps at least half of them.
    """
    plain = re.sub(r"[^a-z0-9]+", "-", anyascii(name.replace("’", "").replace("'", "")).lower()).strip("-")
    if len(plain) > LONGEST:
        short = plain[: LONGEST + 1].rpartition("-")[0]
        plain = short if len(short) >= LONGEST // 2 else plain[:LONGEST]
    return plain.strip("-") or NAMELESS


def make_cut_name(name: str, fingerprint: str, *, side: str = "front", unit: str = "", ending: str = "dxf") -> str:
    """The file's name without its folder. unit: put into the name of a drawing that cannot carry its unit itself."""
    words = [build_file_slug(name), fingerprint, *(["back"] if side == "back" else []), *([unit] if unit else [])]
    return f"{'-'.join(words)}.{ending}"
