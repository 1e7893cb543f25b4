"""The fingerprint: a short code of exactly what would be cut on one plaque.

It is a hash over decisions (which outlines, how large, where in whole µm, on which blank, with which cutter, how deep,
which words, what else the client gets) and never over computed curves, so that it changes when the finished piece
changes and at no other time. The row in the client's list, the copy of the workbook, the number of workers and the
order's title are not in it. How a piece is made is not either: the release tells when that changed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pipeline.core.config.order import Order
from pipeline.core.config.order_table import list_values
from pipeline.core.model import Artwork, Blank, SetLine
from pipeline.core.short_codes import ALPHABET, build_short_code, hash_values, pack_json
from pipeline.core.storage.lru_cache import LruCache
from pipeline.geometry.curves import Chain

LENGTH = 10
"""18 ** 10 codes: among 10,000 designs of one order two share a code with a chance of about 1 in 70,000, and the ledger
compares the text besides. The code guards against mix-ups, not against forgery."""
DEFINITION = 1
"""Goes into every hash. To be raised when the meaning of what is hashed changes: all sign-offs then lapse."""

CUTTER_WORDS = ("kind", "angle", "tip", "diameter", "kerf", "line_width", "deepest")
"""What of the resolved cutter and limits changes what is cut. Limits that only stop a plaque are not among them."""

Words = tuple[tuple[str, str | float | bool], ...]
_CURVES, _TOLERANCE = "arcs", 0.01
"""Stand in every hash: earlier versions had the order's own there, and codes of orders with the defaults stay."""


def list_cutting_values(order: Order, cutter: Iterable[tuple[str, str | float]]) -> Words:
    """The settings of an order that change the finished piece, by name; see `PURPOSES` in `core.parts`.

    cutter: the resolved cutter and limits as the outcome carries them; with `pocket_cutter` the diameter of the one
    that leaves the pocket's corners, with `lowered` how much deeper grooves are cut for the sanding; lengths in mm,
    angles in degrees. How a piece is made (version and curves of the file, layer names, unit, roughing cutter) is left
    out: the piece is the same, see `list_making_values`. What an order does not have adds no word, so that its codes
    stay when more is covered.
    """
    cutter = tuple(cutter)
    words = dict(_list_constant_values(order, cutter))
    words["files.curves"], words["files.tolerance"] = _CURVES, _TOLERANCE
    words |= {key: value for key, value in list_values(order, "piece") if value}
    if order.board is not None:  # no stated grain means upright, which used to be the default
        words["board.grain"] = order.board.grain or "upright"
    for key, value in cutter:
        if key == "pocket_cutter" and order.pocket is not None:
            words["pocket.cutter"] = value
    if order.finish.sanded_off:
        if not order.finish.compensate:
            words["finish.sanded_off"] = order.finish.sanded_off
        elif any(key == "lowered" for key, _ in cutter):
            words["finish.lowered"] = True  # grooves are cut deeper; outlines don't grow
    if off_back := _compute_off_back(order):
        words["stock.off_back"] = off_back
    return tuple(sorted(words.items()))


def list_earlier_values(order: Order, cutter: Iterable[tuple[str, str | float]]) -> Words:
    """List these values as versions up to the ledger's first schema had them."""
    words = dict(_list_constant_values(order, tuple(cutter)))
    words["files.curves"], words["files.tolerance"] = order.files.curves, order.files.tolerance
    return tuple(sorted(words.items()))


def _list_constant_values(
    order: Order, cutter: Iterable[tuple[str, str | float]]
) -> Iterator[tuple[str, str | float | bool]]:
    yield from ((f"cutter.{k}", v) for k, v in cutter if k in CUTTER_WORDS)
    yield "files.grooves", order.files.grooves
    yield "files.registration", order.files.registration.format_word() if order.files.registration else False
    if order.finish.compensate:  # cut wider by what sanding removes again
        yield "finish.compensate", order.finish.sanded_off


def _compute_off_back(order: Order) -> float:
    """Compute what comes off the back after the cut, mm. Sanding of a planed back counts as it always did, so that
    codes stay the same."""
    if order.stock is None or not (order.stock.sawn_off or order.pour):
        return 0.0
    return order.stock.sawn_off + order.stock.sanded_back


def list_making_values(order: Order) -> tuple[tuple[str, str], ...]:
    """Keys of the order that change its cut files and not the pieces, with their values as text, in the models' order.
    Lengths in mm."""
    held = [(key, _format_value(value)) for key, value in list_values(order, "making")]
    if order.pocket is not None and order.pocket.fine is not None:  # alone, it determines the corners
        rough = order.pocket.rough
        held.append(("pocket.rough", _format_value([v for v in (rough.use, rough.diameter) if v is not None])))
    flat = [v for v in (order.clearing.use, order.clearing.diameter) if v is not None]
    if flat:  # the file has a layer for flat floors even if no stroke needs one
        held.append(("clearing", _format_value(flat)))
    return tuple(held)


def _format_value(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, Mapping):
        return ", ".join(f"{key} = {_format_value(each)}" for key, each in sorted(value.items()))
    return ", ".join(map(_format_value, value)) if isinstance(value, tuple | list) else str(value)


def convert_to_micrometres(length_mm: float) -> int:
    """Convert to whole µm; halves go to the even neighbour, so that the sign doesn't matter."""
    return round(length_mm * 1000)


def _encode_value(value: str | float | bool) -> str | int | bool:
    """Numbers of the settings are compared to a thousandth of a µm: enough to tell apart what somebody typed."""
    return value if isinstance(value, str | bool) else round(value * 1_000_000)


def canonicalise(chain: Chain) -> list[list[int]]:
    """Canonicalise a chain: whole µm (bulges in millionths), the same wherever it starts and whichever way it runs.

    An open chain may only be turned round; a closed one starts at its least vertex.
    """
    rows = [
        [convert_to_micrometres(x), convert_to_micrometres(y), round(b * 1_000_000)]
        for x, y, b in chain.vertices.tolist()
    ]
    places = [row[:2] for row in rows]
    bulges = [row[2] for row in rows]
    if chain.closed:
        back = [[*place, -bulge] for place, bulge in zip(places[::-1], [*bulges[-2::-1], bulges[-1]], strict=True)]
        return min(_rotate_to_least(rows), _rotate_to_least(back))
    back = [[*place, -bulge] for place, bulge in zip(places[::-1], [*bulges[-2::-1], 0], strict=True)]
    return min(rows, back)


def _rotate_to_least(rows: list[list[int]]) -> list[list[int]]:
    least = min(rows, default=None)
    return min((rows[i:] + rows[:i] for i, row in enumerate(rows) if row == least), default=[])


def _encode_blank(blank: Blank) -> dict[str, Any]:
    """What of the blank is material: zones and keep-outs only guide the placing and are not cut."""
    return {
        "edge": canonicalise(blank.edge),
        "holes": sorted(canonicalise(c) for c in blank.holes),
        "pockets": sorted(canonicalise(c) for c in blank.pockets),
        "thickness": None if blank.thickness is None else convert_to_micrometres(blank.thickness),
    }


def _encode_line(line: SetLine) -> list[Any]:
    """A line's pieces: outline key, em size in whole µm, place in whole µm, turn in millionths of a radian."""
    return [
        line.side,
        [
            [
                [
                    piece.shape.key,
                    convert_to_micrometres(piece.scale * piece.shape.units_per_em),
                    convert_to_micrometres(piece.x),
                    convert_to_micrometres(piece.y),
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
        """words: see `list_cutting_values`."""
        self._lines: LruCache[str] = LruCache()
        decided = [DEFINITION, _encode_blank(blank), [[name, _encode_value(value)] for name, value in sorted(words)]]
        self.decided = hash_values(decided)  # blank and settings, which enter every fingerprint
        self._order = pack_json(self.decided)

    def compute(self, text: Iterable[str], artwork: Artwork) -> str:
        """Compute the fingerprint of one plaque. text: its lines as they will be cut."""
        lines = ",".join(
            self._lines.get_or_compute(line, lambda: pack_json(_encode_line(line)))  # noqa: B023
            for line in artwork.lines
        )
        drawn = ",".join(self._lines.get_or_compute(f, lambda: pack_json(_encode_line(f))) for f in artwork.figures)  # noqa: B023
        more = f",[{drawn}]" if drawn else ""  # an order without artwork keeps its earlier codes
        whole = f"[{self._order},{pack_json(list(text))},[{lines}]{more}]"  # the same text as packing it all at once
        return build_short_code(hashlib.sha256(whole.encode("ascii")).hexdigest(), LENGTH)


def is_fingerprint(text: str) -> bool:
    """Return whether this could be a fingerprint, by its letters and length."""
    return len(text) == LENGTH and set(text) <= set(ALPHABET)
