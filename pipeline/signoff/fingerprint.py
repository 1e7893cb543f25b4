"""The fingerprint: a short code of exactly what would be cut on one plaque.

It is a hash over decisions (which outlines, how large, where in whole µm, on which blank, with which cutter, how deep,
which words) and never over computed curves, so that it changes when what is cut changes and at no other time. The row
in the client's list, the copy of the workbook, the number of workers and the order's title are not in it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

from pipeline.core.codes import ALPHABET, packed, sha256_of, short_code
from pipeline.core.model import Artwork, Blank, SetLine
from pipeline.core.order import Order
from pipeline.core.recent import Recent
from pipeline.geometry.curves import Chain

LENGTH = 10
"""18 ** 10 codes: among 10,000 designs of one order two share a code with a chance of about 1 in 70,000, and the ledger
compares the text besides. The code guards against mix-ups, not against forgery."""
DEFINITION = 1
"""Goes into every hash. To be raised when the meaning of what is hashed changes: all sign-offs then lapse."""

CUTTER_WORDS = ("kind", "angle", "tip", "diameter", "kerf", "line_width", "deepest")
"""What of the resolved cutter and limits changes what is cut. Limits that only stop a plaque are not among them."""

Words = tuple[tuple[str, str | float | bool], ...]


def cutting_words(order: Order, cutter: Iterable[tuple[str, str | float]]) -> Words:
    """The settings of an order that change what is cut, by name.

    cutter: the resolved cutter and limits as the outcome carries them; lengths in mm, angles in degrees. How a file is
    written (version, layer names, unit) is left out: the piece is the same.
    """
    words: dict[str, str | float | bool] = {f"cutter.{k}": v for k, v in cutter if k in CUTTER_WORDS}
    words["files.curves"] = order.files.curves
    words["files.tolerance"] = order.files.tolerance
    words["files.grooves"] = order.files.grooves
    words["files.registration"] = order.files.registration.word() if order.files.registration else False
    if order.finish.compensate:  # without it sanding changes the finished look, not the cut
        words["finish.compensate"] = order.finish.sanded_off
        if order.files.grooves and order.finish.sanded_off and words.get("cutter.kind") == "v-bit":
            words["finish.lowered"] = True  # grooves are cut deeper, outlines are not grown
    return tuple(sorted(words.items()))


def micrometres(length_mm: float) -> int:
    """Whole µm; halves go to the even neighbour, so that a sign does not matter."""
    return round(length_mm * 1000)


def _word(value: str | float | bool) -> str | int | bool:
    """Numbers of the settings are compared to a thousandth of a µm: enough to tell apart what somebody typed."""
    return value if isinstance(value, str | bool) else round(value * 1_000_000)


def canonical(chain: Chain) -> list[list[int]]:
    """A chain in whole µm (bulges in millionths), the same wherever it starts and whichever way it runs.

    An open chain may only be turned round; a closed one starts at its least vertex.
    """
    rows = [[micrometres(x), micrometres(y), round(b * 1_000_000)] for x, y, b in chain.vertices.tolist()]
    places = [row[:2] for row in rows]
    bulges = [row[2] for row in rows]
    if chain.closed:
        back = [[*place, -bulge] for place, bulge in zip(places[::-1], [*bulges[-2::-1], bulges[-1]], strict=True)]
        return min(_from_least(rows), _from_least(back))
    back = [[*place, -bulge] for place, bulge in zip(places[::-1], [*bulges[-2::-1], 0], strict=True)]
    return min(rows, back)


def _from_least(rows: list[list[int]]) -> list[list[int]]:
    least = min(rows, default=None)
    return min((rows[i:] + rows[:i] for i, row in enumerate(rows) if row == least), default=[])


def _blank(blank: Blank) -> dict[str, Any]:
    """What of the blank is material: zones and keep-outs only guide the placing and are not cut."""
    return {
        "edge": canonical(blank.edge),
        "holes": sorted(canonical(c) for c in blank.holes),
        "pockets": sorted(canonical(c) for c in blank.pockets),
        "thickness": None if blank.thickness is None else micrometres(blank.thickness),
    }


def _line(line: SetLine) -> list[Any]:
    """A line's pieces: outline key, em size in whole µm, place in whole µm, turn in millionths of a radian."""
    return [
        line.side,
        [
            [
                [
                    piece.shape.key,
                    micrometres(piece.scale * piece.shape.units_per_em),
                    micrometres(piece.x),
                    micrometres(piece.y),
                    round(piece.turn * 1_000_000),
                ]
                for piece in row.pieces
            ]
            for row in line.rows
        ],
    ]


class Fingerprints:
    """Fingerprints of one order: blank and settings are put in order once, a plaque then costs its pieces."""

    def __init__(self, blank: Blank, words: Words) -> None:
        """words: see `cutting_words`."""
        self._lines: Recent[str] = Recent()
        decided = [DEFINITION, _blank(blank), [[name, _word(value)] for name, value in sorted(words)]]
        self._order = packed(sha256_of(decided))

    def of(self, text: Iterable[str], artwork: Artwork) -> str:
        """The fingerprint of one plaque. text: its lines as they will be cut."""
        lines = ",".join(self._lines.of(line, lambda: packed(_line(line))) for line in artwork.lines)  # noqa: B023
        whole = f"[{self._order},{packed(list(text))},[{lines}]]"  # as packing all of it at once gives
        return short_code(hashlib.sha256(whole.encode("ascii")).hexdigest(), LENGTH)


def fingerprint(text: Iterable[str], artwork: Artwork, blank: Blank, words: Words) -> str:
    """The fingerprint of one plaque; see `Fingerprints` for many of one order."""
    return Fingerprints(blank, words).of(text, artwork)


def is_fingerprint(text: str) -> bool:
    """Whether this could be a fingerprint, by its letters and length."""
    return len(text) == LENGTH and set(text) <= set(ALPHABET)
