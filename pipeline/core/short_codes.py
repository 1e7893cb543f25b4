"""Short codes that people read from paper, say on the telephone and type: for a plaque's design, for an order."""

from __future__ import annotations

import hashlib
import json
from typing import Any

ALPHABET = "3479CDFHJKMNPRTWXY"
"""No characters that are mistaken for one another (0 O Q, 1 I L, 2 Z, 5 S, 6 G, 8 B, U V), and no vowels, so that no
code spells a word on a memorial's papers."""


_encode = json.JSONEncoder(ensure_ascii=True, separators=(",", ":"), sort_keys=True).encode


def pack_json(decided: Any) -> str:
    """Plain values (text, whole numbers, lists, dicts) as ASCII text, the same in every process."""
    return _encode(decided)


def hash_values(decided: Any) -> str:
    """sha256 (hex) of plain values."""
    return hashlib.sha256(pack_json(decided).encode("ascii")).hexdigest()


def build_short_code(sha256: str, length: int) -> str:
    """`length` letters of the alphabet from a hash (hex); len(ALPHABET) ** length different codes."""
    number, code = int(sha256, 16), ""
    for _ in range(length):
        number, digit = divmod(number, len(ALPHABET))
        code += ALPHABET[digit]
    return code


def build_order_id(title: str, client: str) -> str:
    """Build the six letters that say which order a paper belongs to: the same for every run, copy and revision of the
    order, different for another client's or another year's. Changed sizes, typefaces or lists don't change them."""
    return build_short_code(hash_values(["order", " ".join(title.split()), " ".join(client.split())]), 6)
