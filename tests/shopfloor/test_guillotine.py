"""Layouts of equal blanks compared with an exhaustive search of all trees of through cuts, and that search with
published examples.

The search is the recursion of Gilmore and Gomory (Operations Research 14, 1966): the best of a rectangle is one
piece, or the best of its two parts after any through cut.
"""

from __future__ import annotations

import itertools
import random

import shapely

from pipeline.shopfloor.nesting import NestingBoard, SawLane, StripLayout, keep_pieces, lay_out
from pipeline.shopfloor.saw import list_board_cuts, order_cuts
from tests.shopfloor.sawing import simulate_sawing

Piece = tuple[int, int, int]
"""Length, width, value. Pieces are not turned."""


def most(length: int, width: int, pieces: list[Piece]) -> int:
    """Return the greatest value of through cuts at whole numbers, with any number of each piece."""
    best = [[0] * (width + 1) for _ in range(length + 1)]
    for x in range(length + 1):
        for y in range(width + 1):
            value = max((v for a, b, v in pieces if a <= x and b <= y), default=0)
            for cut in range(1, x // 2 + 1):
                value = max(value, best[cut][y] + best[x - cut][y])
            for cut in range(1, y // 2 + 1):
                value = max(value, best[x][cut] + best[x][y - cut])
            best[x][y] = value
    return best[length][width]


HERZ = [(18, 65), (21, 13), (24, 27), (36, 17), (54, 20)]
"""Herz (IBM J. Res. Dev. 16, 1972): plate 127 × 98, value = area. Sizes of the pieces from memory; the best value,
12348, and that of CGCUT1 as in Hifi and Zissimopoulos (European J. Operational Research 91, 1996), told by PackLib
(www.ibr.cs.tu-bs.de/alg/packlib, article hz-reawt-96)."""
CGCUT1 = [(8, 4, 66), (3, 7, 35), (8, 2, 24), (3, 4, 17), (3, 3, 11), (3, 2, 8), (2, 1, 2)]
"""OR-Library's cgcut1 (Christofides and Whitlock, Operations Research 25, 1977): plate 15 × 10, without its limits on
numbers."""


def test_the_search_finds_published_values() -> None:
    assert most(127, 98, [(a, b, a * b) for a, b in HERZ]) == 12348
    assert most(15, 10, CGCUT1) == 249


def board(length: int, width: int) -> NestingBoard:
    return NestingBoard(name="b", length=length, width=width)


def count(length: int, width: int, a: int, b: int, kerf: int, grain: str) -> int:
    """Return how many blanks a × b fit on a board, no trim, no clamps; each is found whole when the board is sawn."""
    blank, saw = shapely.box(0, 0, a, b), SawLane(kerf=kerf, trim=0.0)
    layout = lay_out(board(length, width), saw, blank, grain)
    assert sawn_free(layout, blank, saw) == len(layout.slots)
    return len(layout.slots)


def sawn_free(layout: StripLayout, blank: shapely.Geometry, saw: SawLane) -> int:
    """Return the parts of the blank's size after all cuts."""
    stock = {"1": shapely.box(0, 0, layout.sheet.length, layout.sheet.width)}
    parts = simulate_sawing(stock, order_cuts(list_board_cuts(layout, saw, blank, 1)), saw.kerf)
    return sum(abs(p.area - blank.area) < 1e-6 * blank.area for p in parts.values())


def test_the_layout_of_a_published_pallet() -> None:
    """Boxes of 8 × 3 on a pallet of 49 × 28: the example of the recursive partitioning approach of Birgin, Lobato
    and Morabito (J. Operational Research Society 61, 2010; journal from memory), at most 57; 56 with through cuts
    only, by the search above. Two strips of boxes across and four of boxes along give them: 2 × 16 + 4 × 6."""
    assert most(49, 28, [(8, 3, 1), (3, 8, 1)]) == 56
    # in tenths, minus a kerf of one tenth each: the same pallet
    assert count(489, 279, 79, 29, 1, "none") == 56
    assert count(489, 279, 79, 29, 1, "across") == most(49, 28, [(8, 3, 1)]) == 54


def test_boards_with_blanks_of_any_direction_match_the_search() -> None:
    """Two stages can't always match any tree of cuts: never more, and rarely less. With a kerf, pieces and board are
    one kerf larger and the saw is thin."""
    rng, kerf = random.Random(7), 1
    short = total = 0
    for _ in range(30):
        length, width = rng.randint(15, 40), rng.randint(10, 30)
        a, b = rng.randint(4, 14), rng.randint(3, 10)
        found = count(length, width, a, b, kerf, "none")
        limit = most(length + kerf, width + kerf, [(a + kerf, b + kerf, 1), (b + kerf, a + kerf, 1)])
        one = [most(length + kerf, width + kerf, [(x + kerf, y + kerf, 1)]) for x, y in ((a, b), (b, a))]
        assert max(one) <= found <= limit
        short += limit - found
        total += limit
    assert short <= 0.03 * total


def test_two_kinds_of_strips_do_not_cross() -> None:
    layout = lay_out(board(489, 279), SawLane(kerf=1.0, trim=0.0), shapely.box(0, 0, 79, 29), "none")
    assert sorted({s.thick for s in layout.strips}) == [29, 79]
    ends = sorted((s.start, s.start + s.thick) for s in layout.strips)
    assert all(low <= high for (_, low), (high, _) in itertools.pairwise(ends))


def test_a_part_filled_board_of_two_kinds_is_sawn_free() -> None:
    blank, saw = shapely.box(0, 0, 79, 29), SawLane(kerf=1.0, trim=0.0)
    part = keep_pieces(lay_out(board(489, 279), saw, blank, "none"), 35)
    assert len({s.thick for s in part.strips}) == 2 and sawn_free(part, blank, saw) == 35
