"""The fingerprint changes when what is cut changes, and only then."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.config.order import (
    BlankConfig,
    CutterConfig,
    FilesConfig,
    FinishConfig,
    LineConfig,
    ListConfig,
    Order,
)
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, PocketConfig, PourConfig, StockConfig
from pipeline.core.fingerprint import (
    LENGTH,
    Fingerprints,
    canonicalise,
    is_fingerprint,
    list_cutting_values,
)
from pipeline.core.model import Artwork, Blank, Piece
from pipeline.core.short_codes import ALPHABET
from pipeline.cutting.cutters import list_resolved_values, resolve_cutter
from pipeline.geometry.curves import Chain
from tests import builders

CUTTER = (("kind", "v-bit"), ("angle", 60.0), ("tip", 0.1), ("deepest", 1.2), ("stroke", 0.2), ("land", 0.2))


def order(**changed: object) -> Order:
    parts: dict[str, object] = {
        "title": "Wardens of the Shore 2026",
        "list": ListConfig(file="recipients.xlsx"),
        "blank": BlankConfig(drawing="plaque.dxf"),
        "line": (LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
    }
    return Order(**{**parts, **changed})


def art(name: str = "Ada Kittiwake", cap: float = 8.0, stem: str = "EBGaramond") -> Artwork:
    return builders.artwork(((name,), ("Warden",)), cap_heights=(cap, 4.0), stem=stem)


def mark(
    name: str = "Ada Kittiwake",
    *,
    artwork: Artwork | None = None,
    blank: Blank | None = None,
    cutter: tuple[tuple[str, str | float], ...] = CUTTER,
    **changed: object,
) -> str:
    words = list_cutting_values(order(**changed), cutter)
    return Fingerprints(blank or builders.slanted_blank(), words).compute((name, "Warden"), artwork or art(name))


BASE = mark()


def each_piece(artwork: Artwork, change) -> Artwork:
    lines = tuple(
        replace(line, rows=tuple(replace(row, pieces=tuple(map(change, row.pieces))) for row in line.rows))
        for line in artwork.lines
    )
    return Artwork(lines=lines)


def with_cutter(**changed: str | float) -> tuple[tuple[str, str | float], ...]:
    return tuple({**dict(CUTTER), **changed}.items())


def test_it_can_be_read_aloud_and_typed():
    assert is_fingerprint(BASE)
    assert len(BASE) == LENGTH == 10
    assert not set(ALPHABET) & set("0OQ1IL2Z5S6G8BUVAEIOUaeiou")
    assert not is_fingerprint(BASE.lower()) and not is_fingerprint(BASE[:-1]) and not is_fingerprint("")


@pytest.mark.parametrize(
    "same",
    [
        pytest.param(lambda: mark(title="Wardens of the Shore, second try"), id="order title"),
        pytest.param(lambda: mark(client="Somebody Else"), id="client"),
        pytest.param(
            lambda: mark(list=ListConfig(file="copy of recipients (2).xlsx")), id="another copy of the workbook"
        ),
        pytest.param(
            lambda: mark(files=FilesConfig(version="R12", layers={"ENGRAVE": "7"})), id="how the file is written"
        ),
        pytest.param(lambda: mark(units="in"), id="unit of the file"),
        pytest.param(lambda: mark(cutter=with_cutter(stroke=0.25, land=0.3)), id="a limit that only stops"),
        pytest.param(lambda: mark(files=FilesConfig(tolerance=0.02, curves="lines")), id="how curves are written"),
        pytest.param(lambda: mark(blank=replace(builders.slanted_blank(), keep_outs=())), id="a keep-out"),
        pytest.param(
            lambda: mark(blank=replace(builders.slanted_blank(), sha256="0", source="b.dxf")), id="re-saved drawing"
        ),
        pytest.param(lambda: mark(artwork=each_piece(art(), lambda p: replace(p, x=p.x + 1e-9))), id="rounding noise"),
    ],
)
def test_these_changes_leave_the_fingerprint(same):
    assert same() == BASE


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(lambda: mark("Ada Kittiwakc"), id="a letter"),
        pytest.param(lambda: mark(artwork=art("Ada Kittiwakc")), id="a letter of the curves alone"),
        pytest.param(lambda: mark(artwork=art(stem="NotoSans")), id="another face"),
        pytest.param(
            lambda: mark(
                artwork=each_piece(art(), lambda p: replace(p, shape=replace(p.shape, key="x" + p.shape.key)))
            ),
            id="another version of the face's file",
        ),
        pytest.param(lambda: mark(artwork=art(cap=8.01)), id="size by a hundredth"),
        pytest.param(lambda: mark(artwork=each_piece(art(), lambda p: replace(p, x=p.x + 0.002))), id="moved by 2 µm"),
        pytest.param(lambda: mark(artwork=each_piece(art(), lambda p: replace(p, turn=0.001))), id="turned"),
        pytest.param(
            lambda: mark(artwork=Artwork(lines=tuple(replace(x, side="back") for x in art().lines))), id="side"
        ),
        pytest.param(lambda: mark(artwork=Artwork(lines=art().lines[:1])), id="a line left out"),
        pytest.param(lambda: mark(cutter=with_cutter(angle=90.0)), id="cutter angle"),
        pytest.param(lambda: mark(cutter=with_cutter(tip=0.2)), id="cutter tip"),
        pytest.param(lambda: mark(cutter=with_cutter(kind="laser", kerf=0.15)), id="another process"),
        pytest.param(lambda: mark(cutter=with_cutter(deepest=1.0)), id="depth"),
        pytest.param(lambda: mark(finish=FinishConfig(sanded_off=0.2, compensate=True)), id="compensated sanding"),
        pytest.param(lambda: mark(finish=FinishConfig(sanded_off=0.2)), id="sanding"),
        pytest.param(lambda: mark(stock=StockConfig(material="walnut")), id="material"),
        pytest.param(lambda: mark(stock=StockConfig(sawn_off=8.0)), id="back sawn off"),
        pytest.param(lambda: mark(pocket=PocketConfig(depth=6.0)), id="depth of the pocket"),
        pytest.param(lambda: mark(pour=PourConfig()), id="resin"),
        pytest.param(
            lambda: mark(board=BoardConfig(size=(BoardSize(length=900.0, width=200.0),))), id="way of the grain"
        ),
        pytest.param(lambda: mark(files=FilesConfig(grooves=True)), id="centre lines"),
        pytest.param(lambda: mark(blank=builders.disc_blank()), id="another blank"),
        pytest.param(lambda: mark(blank=replace(builders.slanted_blank(), thickness=18.0)), id="thickness"),
        pytest.param(lambda: mark(blank=replace(builders.slanted_blank(), pockets=())), id="pocket"),
        pytest.param(
            lambda: mark(blank=replace(builders.slanted_blank(), holes=(builders.circle(9, 9, 2),))), id="hole"
        ),
    ],
)
def test_these_changes_give_another_fingerprint(other):
    assert other() != BASE


def test_only_grooves_cut_deeper_for_sanding_have_a_separate_key():
    """They used to be the axis of grown outlines; everything else is cut as before and keeps its code."""

    def words(use="vbit-60", **parts):
        made = order(**parts, cutter=CutterConfig(use=use))
        return dict(list_cutting_values(made, list_resolved_values(made, *resolve_cutter(made, 19.0))))

    finish, grooves = FinishConfig(sanded_off=0.2, compensate=True), FilesConfig(grooves=True)
    assert words(finish=finish, files=grooves)["finish.lowered"] is True
    for parts in (
        {},
        {"finish": finish},
        {"files": grooves},
        {"finish": FinishConfig(sanded_off=0.2), "files": grooves},
    ):
        assert "finish.lowered" not in words(**parts)
    none = {"finish": FinishConfig(sanded_off=0.0, compensate=True), "files": grooves}
    assert "finish.lowered" not in words(**none)
    assert "finish.lowered" not in words(use="laser-fine", finish=finish, files=grooves)


def test_the_row_does_not_matter_and_neither_do_the_copies():
    made = Fingerprints(builders.slanted_blank(), list_cutting_values(order(), CUTTER))
    one, two = builders.plaque(5, "Ada Kittiwake"), builders.plaque(217, "Ada Kittiwake", copies=3)
    assert made.compute(one.text, one.artwork) == made.compute(two.text, two.artwork)


def test_names_of_one_order_get_different_codes():
    made = Fingerprints(builders.slanted_blank(), list_cutting_values(order(), CUTTER))
    names = [f"{a}{b} Tern" for a in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" for b in "aeiouy"]
    assert len({made.compute((n,), art(n)) for n in names}) == len(names)


def test_another_process_and_hash_seed_give_the_same_code():
    program = "from tests.signoff.test_fingerprint import BASE; print(BASE)"
    run = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONHASHSEED": "1", "PYTHONPATH": "."},
        capture_output=True,
        text=True,
        check=True,
        cwd=builders.FONTS.parent,
    )
    assert run.stdout.strip() == BASE


def reversed_chain(chain: Chain) -> Chain:
    """Return the same contour in reverse (DXF reference: a bulge belongs to the vertex that starts its segment)."""
    places, bulges = chain.vertices[::-1, :2], chain.vertices[:, 2]
    turned = np.concatenate([bulges[-2::-1], bulges[-1:]])
    return Chain(np.column_stack([places, -turned]), chain.closed)


@pytest.mark.parametrize("start", range(5))
def test_a_contour_is_the_same_wherever_it_starts_and_whichever_way_it_runs(start):
    chain = Chain(np.array([[0, 0, 0], [10, 0, 0.25], [10, 6, -0.1], [4, 8, 0], [0, 6, 0.4]], float))
    rolled = Chain(np.roll(chain.vertices, start, axis=0))
    assert canonicalise(rolled) == canonicalise(chain) == canonicalise(reversed_chain(rolled))
    bent = chain.vertices.copy()
    bent[1, 2] = 0.26
    assert canonicalise(Chain(bent)) != canonicalise(chain)


def test_pieces_are_hashed_and_not_the_line_s_figures():
    lines = tuple(replace(line, slack=line.slack + 1, tracking=-5) for line in art().lines)
    assert mark(artwork=Artwork(lines=lines)) == BASE
    assert isinstance(art().lines[0].rows[0].pieces[0], Piece)
