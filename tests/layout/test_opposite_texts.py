"""Two texts on one baseline, baselines shared by zones, blocks at the top and the bottom, breaks as typed."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.core.catalogue import format_message, format_remedy
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order
from pipeline.core.model import Blank, Recipient
from pipeline.geometry.curves import Chain
from pipeline.layout.fit_findings import list_fit_findings
from pipeline.layout.line_breaks import break_places, break_rule
from pipeline.layout.line_texts import compose_line_texts
from pipeline.layout.opposite_text import LEAST_GAP
from pipeline.layout.typesetter import LineText, Typesetter
from pipeline.lettering.font_face import open_face


def rectangle(x0, y0, x1, y1):
    return Chain(np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0]], float))


ZONES = {"LEFT": (10, 10, 70, 60), "RIGHT": (80, 10, 140, 60)}
MARGIN = 2.0


def setter(*lines, margin=MARGIN):
    base = {"face": "eb-garamond", "cap_height": 8.0, "smallest": 4.0, "zone": "LEFT"}
    order = Order.model_validate(
        {
            "title": "Honours",
            "list": {"file": "l.xlsx"},
            "blank": {"drawing": "d.dxf", "layers": {"zone": list(ZONES)}, "margin": margin},
            "line": tuple({"text": "{name}", **base, **line} for line in lines),
        }
    )
    blank = Blank(
        edge=rectangle(0, 0, 150, 70),
        width=150.0,
        height=70.0,
        thickness=19.0,
        zones=tuple((name, rectangle(*box)) for name, box in ZONES.items()),
    )
    return Typesetter(order, blank, [[open_face(line.face)] for line in order.line])


def ends(placed):
    points = np.concatenate(placed.hulls)
    return points[:, 0].min(), points[:, 0].max()


def test_a_line_without_a_year_starts_where_the_others_do():
    s = setter({"opposite": "{year}"})
    without, _ = (s.set_lines([LineText(line=1, text="Ada Vex", opposite=year)])[0].placed[0] for year in ("", "1987"))
    assert ends(without)[0] == pytest.approx(10 + MARGIN, abs=1e-6)


@pytest.mark.parametrize("align", ["left", "right"])
def test_a_year_stands_at_the_other_edge_on_the_same_baseline(align):
    s = setter({"opposite": "{year}", "align": align})
    (one,) = s.set_lines([LineText(line=1, text="Ada Vex", opposite="1987")])
    (row,) = one.placed
    assert ends(row) == pytest.approx((10 + MARGIN, 70 - MARGIN), abs=1e-6)
    assert row.row.text == ("Ada Vex 1987" if align == "left" else "1987 Ada Vex")
    assert s.build_artwork([one]).lines[0].text == "Ada Vex 1987"


def test_both_shrink_together_and_keep_an_em_between_them():
    """The size that fits is the one at which name, an em and year fill the zone: not a step smaller or larger."""
    s = setter({"opposite": "{year}", "smallest": 3.0})
    name, year = "Wilhelmina Tern", "1987"
    (one,) = s.set_lines([LineText(line=1, text=name, opposite=year)])
    size, step = one.setting.cap_height, s.step
    face = s.faces[0][0]
    own, other = (s.shape_row(1, text, 0, None) for text in (name, year))
    natural = (own.ink[2] - own.ink[0] + other.ink[2] - other.ink[0]) / face.cap_units
    natural += LEAST_GAP * face.units_per_em / face.cap_units
    room = 70 - 10 - 2 * MARGIN
    assert 3.0 < size < 8.0 and natural * size <= room < natural * (size + step)
    sizes = {round(p.scale * face.cap_units, 6) for p in one.placed[0].set_row.pieces}
    assert sizes == {size}


def test_a_line_too_long_with_its_year_reports_by_how_much():
    s = setter({"opposite": "{year}", "smallest": 7.5, "tightest": 0})
    texts = [LineText(line=1, text="Wilhelmina Tern", opposite="1987")]
    tried = s.set_lines(texts)
    (found,) = list_fit_findings(s, texts, tried)
    assert found.code == "fit.too-long" and "Wilhelmina Tern 1987" in format_message(found)
    width = s.measure_widest_row(
        texts[0],
        s.set_lines(texts)[0].setting or s._choose_last_try(s._prepare_copy_fitting(texts[0], s.order.line[0])),
    )
    assert found.get_fact("over") == pytest.approx(width - (70 - 10 - 2 * MARGIN), abs=0.001)


def test_leader_dots_of_consecutive_rows_align_in_columns():
    s = setter({"opposite": "{year}", "leader": ".", "cap_height": 3.5, "smallest": 3.5})
    places = []
    for name in ("Ada Vex", "Bo Aukland"):
        (one,) = s.set_lines([LineText(line=1, text=name, opposite="1987")])
        row = one.placed[0]
        dots = [p for p in row.set_row.pieces if {g.text for g in p.shape.glyphs} == {"."}]
        em = row.set_row.pieces[0].scale * s.faces[0][0].units_per_em
        hulls = {id(p): h for p, h in zip(row.set_row.pieces, row.hulls, strict=True)}
        xs = [h[:, 0] for h in (hulls[id(p)] for p in dots)]
        letters = [h[:, 0] for p, h in zip(row.set_row.pieces, row.hulls, strict=True) if p not in dots]
        left = max(h.max() for h in letters if h.max() < min(x.min() for x in xs))
        right = min(h.min() for h in letters if h.min() > max(x.max() for x in xs))
        assert min(x.min() for x in xs) - left >= em / 2 - 1e-6
        assert right - max(x.max() for x in xs) >= em / 2 - 1e-6
        places.append({round(p.x, 6) for p in dots})
        assert one.placed[0].row.text.replace(".", "").split() == [*name.split(), "1987"]
    few, many = sorted(places, key=len)
    assert few and few < many


def test_a_zone_follows_the_baseline_of_another():
    """A longer name is set smaller and its block moves; the line tied to it moves along."""
    lines = ({"name": "who"}, {"text": "{post}", "zone": "RIGHT", "cap_height": 5.0, "baseline_with": "who"})
    s = setter(*lines)
    baselines = []
    for name in ("Ada Vex", "Wilhelmina Featherstone-Vex"):
        who, post = s.set_lines([LineText(line=1, text=name), LineText(line=2, text="Warden")])
        assert post.placed[0].set_row.baseline == who.placed[0].set_row.baseline
        baselines.append(post.placed[0].set_row.baseline)
    assert baselines[0] != baselines[1]
    alone = setter(lines[0], {**lines[1], "baseline_with": None})
    assert alone.set_lines([LineText(line=2, text="Warden")])[0].placed[0].set_row.baseline not in baselines


def test_the_order_of_the_lines_does_not_matter_to_a_tie():
    s = setter({"text": "{post}", "zone": "RIGHT", "baseline_with": "who"}, {"name": "who", "cap_height": 5.0})
    post, who = s.set_lines([LineText(line=1, text="Warden"), LineText(line=2, text="Ada Vex")])
    assert post.placed[0].set_row.baseline == who.placed[0].set_row.baseline


def test_lines_above_and_below_a_tied_one_keep_their_distance():
    tied = ({"text": "A"}, {"text": "B", "baseline_with": "who"}, {"text": "C"})
    s = setter(*({**line, "cap_height": 4.0} for line in tied), {"zone": "RIGHT", "name": "who", "vertical": "top"})
    texts = [LineText(line=n, text=t) for n, t in enumerate("ABC", 1)]
    *block, who = s.set_lines([*texts, LineText(line=4, text="Ada Vex")])
    tied_at = [t.placed[0].set_row.baseline for t in block]
    free_at = [t.placed[0].set_row.baseline for t in s.set_lines(texts)]
    assert tied_at[1] == who.placed[0].set_row.baseline
    assert np.diff(tied_at) == pytest.approx(np.diff(free_at))


@pytest.mark.parametrize("word", ["Åse Ýr", "Peggy Jay"])
def test_a_block_at_the_top_or_bottom_has_room_for_accents_and_descenders(word):
    """All names are at the same height, whatever their accents, and inside the zone."""
    for where in ("top", "bottom"):
        s = setter({"vertical": where})
        (plain,) = s.set_lines([LineText(line=1, text="Ada Vex")])
        (one,) = s.set_lines([LineText(line=1, text=word)])
        assert one.setting.cap_height == 8.0
        assert one.placed[0].set_row.baseline == plain.placed[0].set_row.baseline
        gap = 60 - MARGIN - 8.0 - plain.placed[0].set_row.baseline
        low = plain.placed[0].set_row.baseline - 10 - MARGIN
        assert (gap if where == "top" else low) == pytest.approx(0.45 * 8.0)


def said(raw, **line):
    part = LineConfig(text="For {name}", face="noto-sans", cap_height=8.0, **line)
    order = Order(
        title="Wardens",
        list=ListConfig(file="list.csv", language="en"),
        blank=BlankConfig(shape="rectangle", width=100.0, height=60.0),
        line=(part,),
    )
    text = " ".join(raw)
    who = Recipient(row=4, cell="B4", values=(("name", text),), raw=(("name", text),), typed_rows=(("name", raw),))
    return compose_line_texts(order, who)


def test_a_break_typed_in_the_cell_is_kept_where_breaks_allows_it():
    texts, found = said(("Ada B.", "Vex"), breaks=2)
    assert texts[0].typed == ("For Ada B.", "Vex") and texts[0].text == "For Ada B. Vex" and not found
    texts, (finding,) = said(("Ada B.", "Vex"))
    assert texts[0].typed == () and finding.code == "fit.break-not-kept"
    assert "For Ada B. / Vex" in format_message(finding) and "raise `breaks` of the line to 2" in format_remedy(finding)
    texts, _ = said(("Ada B.", "Straße"), breaks=2, case="capitals")
    assert texts[0].typed == ("FOR ADA B.", "STRAẞE")


def test_a_typed_break_is_kept_and_reported():
    s = setter({"breaks": 2, "cap_height": 6.0})
    texts = [LineText(line=1, text="Ada B. Vex", typed=("Ada B.", "Vex"))]
    tried = s.set_lines(texts)
    assert tried[0].setting.rows == ("Ada B.", "Vex")
    (found,) = list_fit_findings(s, texts, tried)
    assert found.code == "fit.broken-as-typed" and "Ada B. / Vex" in format_message(found)
    wider = setter({"breaks": 2, "cap_height": 8.0})
    long = LineText(line=1, text="Wilhelmina B. Featherstone", typed=("Wilhelmina B.", "Featherstone"))
    (one,) = wider.set_lines([long])
    assert one.setting.rows == long.typed and one.setting.cap_height < 8.0


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("Ada-Featherstonehaugh", "inside a double name, after “Ada-”"),
        ("Prof. Featherstonehaugh", "after “Prof.”"),
        ("Vex van Featherstonehaugh", "inside a family name, after “van”"),
    ],
)
def test_our_own_rule_is_named_where_it_prevents_a_fit(text, rule):
    s = setter({"smallest": 4.6, "cap_height": 4.6, "breaks": 1})
    texts = [LineText(line=1, text=text)]
    (found,) = list_fit_findings(s, texts, s.set_lines(texts))
    (offered,) = (w for w in found.ways if w.code == "anywhere")
    assert dict(offered.facts)["rule"] == rule
    changed = s.order.line[0].model_copy(update={e.key: e.value for e in offered.edits})
    assert s.replace_line(1, changed).set_lines(texts)[0].setting


def test_breaking_anywhere_still_prefers_good_breaks():
    width = len
    assert break_places("Ada B. Vex", 2, width, anywhere=True)[0] == ("Ada", "B. Vex")
    assert ("Ada B.", "Vex") in break_places("Ada B. Vex", 2, width, anywhere=True)
    assert ("Ada B.", "Vex") not in break_places("Ada B. Vex", 2, width)
    assert break_places("Featherstone-Vex", 2, width, anywhere=True) == [("Featherstone-", "Vex")]
    assert break_rule("B.", "Vex") == "after the initial “B.”"
