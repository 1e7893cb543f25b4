"""Setting plaques in real typefaces: the order of measures, sizes, alignment, arcs, lines that don't fit."""

import math
from itertools import pairwise
from typing import ClassVar

import numpy as np
import pytest

from pipeline.core.catalogue import format_for_client, format_remedy
from pipeline.core.config.order import Order
from pipeline.core.findings import Severity
from pipeline.core.model import Blank
from pipeline.geometry.curves import Chain
from pipeline.layout.block import compute_line_pitch
from pipeline.layout.fit_findings import list_fit_findings
from pipeline.layout.typesetter import LineText, Typesetter
from pipeline.lettering.font_face import open_face

LONG = "Bartholomew Featherstonehaugh-Cholmondeley"
COUPLE = "Dr. Quentin Ashgrove and Mrs. Philippa Ashgrove"


def rectangle(x0, y0, x1, y1):
    return Chain(np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0]], float))


def setter(line=None, *more, zone=None, keep_outs=(), **blank):
    line = {"text": "{name}", "face": "eb-garamond", "cap_height": 8.0, "smallest": 5.5, **(line or {})}
    order = Order.model_validate(
        {
            "title": "T",
            "list": {"file": "l.xlsx"},
            "blank": {"shape": "rectangle", "margin": 4.0, **blank},
            "line": (line, *more),
        }
    )
    piece = Blank(
        edge=rectangle(0, 0, 150, 180),
        width=150.0,
        height=180.0,
        thickness=19.0,
        zones=(("LETTERING", zone or rectangle(15, 10, 127, 70)),),
        keep_outs=tuple(keep_outs),
    )
    faces = [[open_face(part.face)] for part in order.line]
    return Typesetter(order, piece, faces)


def one(s, text):
    texts = [LineText(line=1, text=text)]
    tried = s.set_lines(texts)
    return tried[0], {f.code: f for f in list_fit_findings(s, texts, tried)}


def ink(placed):
    points = np.concatenate(placed.hulls)
    return points.min(axis=0), points.max(axis=0)


def test_a_block_that_is_too_tall_is_not_told_to_be_shorter():
    """Two lines at the top of a zone that has room for one: not a single letter fits as the second."""
    line = {"text": "{name}", "face": "noto-sans", "vertical": "top", "smallest": 5.5}
    s = setter(line | {"cap_height": 6.0}, line | {"cap_height": 6.0}, zone=rectangle(0, 0, 150, 22))
    texts = [LineText(line=1, text="Ida Vex"), LineText(line=2, text="Warden")]
    (found,) = (f for f in list_fit_findings(s, texts, s.set_lines(texts)) if f.severity is Severity.STOP)
    assert (found.code, found.line) == ("fit.too-tall", 2)
    assert "shorter wording" not in format_remedy(found)
    long = [texts[0], LineText(line=2, text="Wilhelmina Zeemeeuw of the Outermost Skerries and Shoals")]
    (found,) = (f for f in list_fit_findings(s, long[1:], s.set_lines(long[1:])) if f.severity is Severity.STOP)
    assert found.code == "fit.too-long"


def test_lines_that_displace_each_other_are_reported_as_such():
    """Four lines too high for their zone: the third is broken in two and pushes out the last, which would fit alone.
    With smaller lines above it, it does."""
    line = {"text": "{name}", "face": "noto-sans"}
    broken = line | {"cap_height": 12.0, "smallest": 7.5, "breaks": 2, "align": "right", "tightest": -30}
    s = setter(
        line | {"cap_height": 8.0, "smallest": 3.46},
        line | {"cap_height": 6.0},
        broken,
        line | {"cap_height": 11.0, "smallest": 9.0},
        zone=rectangle(15, 10, 87, 62),
    )
    words = ("Ida Vex", "Warden", "Ada Vex Bo", "Ida Vex")
    texts = [LineText(line=n, text=text) for n, text in enumerate(words, 1)]
    found = {f.line: f for f in list_fit_findings(s, texts, s.set_lines(texts)) if f.severity is Severity.STOP}
    assert {n: f.code for n, f in found.items()} == {1: "fit.too-tall", 4: "fit.outside-zone"}
    assert found[4].measured > 0
    assert "make the lines of its zone fewer or smaller" in format_remedy(found[4])
    again = s.replace_line(1, s.order.line[0].model_copy(update={"cap_height": 1.5, "smallest": 1.5}))
    again = again.replace_line(3, s.order.line[2].model_copy(update={"cap_height": 7.0, "smallest": 7.0}))
    assert all(t.setting for t in again.set_lines(texts))


def test_a_line_that_fits_is_set_as_designed():
    tried, findings = one(setter(), "Ida Vex")
    assert (tried.setting.cap_height, tried.setting.tracking, tried.setting.rows) == (8.0, 0, ("Ida Vex",))
    assert findings == {}


def test_centred_by_ink_and_capitals():
    tried, _ = one(setter(), "Ida Vex")
    low, high = ink(tried.placed[0])
    assert (low[0] + high[0]) / 2 == pytest.approx(71.0, abs=1e-6)
    assert tried.placed[0].set_row.baseline == pytest.approx(40.0 - 4.0)


def test_an_accent_moves_nothing():
    plain, _ = one(setter(), "Angela Vex")
    accent, _ = one(setter(), "Ångela Vex")
    assert plain.placed[0].set_row.baseline == accent.placed[0].set_row.baseline


def test_light_punctuation_hangs():
    tried, _ = one(setter(), "“Ida Vex”")
    pieces = tried.placed[0].hulls[1:-1]
    points = np.concatenate(pieces)
    assert (points[:, 0].min() + points[:, 0].max()) / 2 == pytest.approx(71.0, abs=1e-6)


def test_tighter_comes_before_smaller_and_is_the_least_that_fits():
    text = "Ada Featherston"
    wide = setter().shape_row(1, text, 0, None)
    need = (wide.ink[2] - wide.ink[0]) * 8.0 / wide.cap_units
    zone = rectangle(20, 10, 20 + need + 8.0 - 0.6, 70)  # 0.6 mm short
    tried, findings = one(setter({"tightest": -20}, zone=zone), text)
    tracking = tried.setting.tracking
    assert tried.setting.cap_height == 8.0
    assert -20 <= tracking < 0
    assert findings["fit.set-tighter"].get_fact("tracking") == -tracking
    assert one(setter({"tracking": tracking, "smallest": 8.0}, zone=zone), text)[0].setting is not None
    assert one(setter({"tracking": tracking + 1, "smallest": 8.0}, zone=zone), text)[0].setting is None


def test_broken_before_smaller():
    tried, findings = one(setter({"breaks": 2}), "Maya and Teodoro Quill")
    assert tried.setting.cap_height == 8.0
    assert tried.setting.rows == ("Maya", "and Teodoro Quill")
    assert findings["fit.broken"].get_fact("rows") == 2


def test_sizes_shrink_in_whole_steps_and_the_next_step_up_does_not_fit():
    tried, findings = one(setter(), "Wilhelmina Featherstone-Vex")
    size = tried.setting.cap_height
    assert size < 8.0
    assert size / 0.25 == pytest.approx(round(size / 0.25))
    up = size + 0.25
    assert one(setter({"cap_height": up, "smallest": up}), "Wilhelmina Featherstone-Vex")[0].setting is None
    assert findings["fit.set-smaller"].measured == size


def test_each_line_gives_up_size_before_rows():
    tried, _ = one(setter({"breaks": 2, "same_size": "each"}), "Wilhelmina Featherstone-Vex")
    assert len(tried.setting.rows) == 1
    assert tried.setting.cap_height < 8.0


def test_a_line_too_long_reports_by_how_much_and_what_would_fit():
    s = setter()
    tried, findings = one(s, LONG)
    finding = findings["fit.too-long"]
    assert tried.setting is None
    size, smallest = finding.measured, finding.limit
    assert smallest == 5.5
    fits = setter({"cap_height": size, "smallest": size})
    assert one(fits, LONG)[0].setting is not None
    bigger = setter({"cap_height": size + 0.02, "smallest": size + 0.02})
    assert one(bigger, LONG)[0].setting is None
    row = s.shape_row(1, LONG, 0, None)
    width = (row.ink[2] - row.ink[0]) * smallest / row.cap_units
    assert finding.get_fact("over") == pytest.approx(width - 104.0, abs=0.002)  # zone 112 less two margins of 4
    assert finding.get_fact("over") == pytest.approx(-2 * finding.get_fact("slack"), abs=0.002)
    (way,) = [way for way in finding.ways if way.code == "smallest"]
    (edit,) = way.edits
    assert (edit.table, edit.number, edit.key) == ("line", 1, "smallest")
    assert size - 0.01 <= edit.value <= size
    assert f"smallest = {edit.value:g}; now 5.5" in format_remedy(finding)


def test_advice_names_the_least_change_that_fits():
    _, findings = one(setter({"smallest": 8.0}), "Maya and Teodoro Quill")
    assert format_remedy(findings["fit.too-long"]).startswith("allow 2 lines (breaks = 2): Maya / and Teodoro Quill")
    assert "(2) Write it as “Maya & Teodoro Quill”." not in format_for_client(findings["fit.too-long"])
    rows = [setter().shape_row(1, text, 0, None) for text in ("Maya & Teodoro Quill", "Maya and Teodoro Quill")]
    short, long = (((row.ink[2] - row.ink[0]) * 8.0 / row.cap_units) for row in rows)
    assert short < long
    zone = rectangle(20, 10, 20 + (short + long) / 2 + 8.0, 70)
    _, findings = one(setter({"smallest": 8.0}, zone=zone), "Maya and Teodoro Quill")
    assert "Write it as “Maya & Teodoro Quill”." in format_for_client(findings["fit.too-long"])


def test_a_keep_out_below_the_row_is_kept_clear():
    hole = rectangle(60, 33, 80, 34.5)
    free, _ = one(setter(keep_outs=[hole], margin=1.0), "Ida Vex")
    assert free.setting.cap_height == 8.0
    lowest = ink(free.placed[0])[0][1]
    assert free.slack == pytest.approx(lowest - 34.5 - 1.0, abs=0.02)
    _, findings = one(setter({"smallest": 8.0}, keep_outs=[hole], margin=2.0), "Ida Vex")
    assert findings["fit.hits-keep-out"].measured < 2.0


def test_a_slanted_zone_stops_what_its_bounding_box_would_hold():
    zone = Chain(np.array([[15, 10, 0], [127, 10, 0], [87, 70, 0], [55, 70, 0]], float))
    text = "Ada Featherston"
    assert one(setter({"smallest": 8.0}), text)[0].setting is not None
    assert one(setter({"smallest": 8.0}, zone=zone), text)[0].setting is None


@pytest.mark.parametrize(("align", "edge"), [("left", 19.0), ("right", 123.0)])
def test_alignment_starts_at_the_margin(align, edge):
    tried, _ = one(setter({"align": align}), "Ida Vex")
    low, high = ink(tried.placed[0])
    assert (low[0] if align == "left" else high[0]) == pytest.approx(edge, abs=0.01)


def test_a_block_is_centred_on_its_middle():
    s = setter({}, {"text": "{post}", "face": "eb-garamond", "cap_height": 4.0})
    tried = s.set_lines([LineText(line=1, text="Ida Vex"), LineText(line=2, text="Warden")])
    upper, lower = (t.placed[0].set_row.baseline for t in tried)
    assert upper - lower == pytest.approx(4.0 + 0.9 * (8.0 + 4.0) / 2)
    assert (upper + 8.0 + lower) / 2 == pytest.approx(40.0)


@pytest.mark.parametrize(("height", "distance"), [(2.5, 4.75), (3.5, 6.65), (5, 9.5), (7, 13.3), (10, 19), (14, 26.6)])
def test_equal_rows_stand_as_far_apart_as_the_standard_says(height, distance):
    """ISO 3098-1:2015, type B lettering with accents, line pitch (read in NF EN ISO 3098-0)."""
    assert compute_line_pitch(height, height, None, None) == pytest.approx(distance)


def test_one_size_for_all_is_that_of_the_longest_name():
    s = setter({"same_size": "all"})
    everybody = [[LineText(line=1, text=t)] for t in ("Ida Vex", "Wilhelmina Featherstone-Vex", LONG)]
    size, by = s.find_common_sizes(everybody)[1]
    assert by == 1  # the third fits at no size and doesn't count
    assert size == one(setter(), "Wilhelmina Featherstone-Vex")[0].setting.cap_height


def test_the_back_is_set_as_seen_from_the_back():
    zone = rectangle(15, 10, 60, 70)
    tried, _ = one(setter({"side": "back"}, zone=zone), "Ida")
    low, high = ink(tried.placed[0])
    assert (low[0] + high[0]) / 2 == pytest.approx(150 - 37.5, abs=1e-6)


class TestArc:
    ARC: ClassVar = {"radius": 28.0, "centre": (75.0, 90.0)}

    def setter(self, at="top", text_size=4.5):
        disc = Chain(np.array([[42, 90, 1.0], [108, 90, 1.0]], float))
        line = {"cap_height": text_size, "smallest": 3.0, "arc": {**self.ARC, "at": at}}
        return setter(line, zone=disc, margin=0.5)

    @pytest.mark.parametrize("at", ["top", "bottom"])
    def test_spacing_at_mid_cap_is_that_of_a_straight_row(self, at):
        s = self.setter(at)
        tried, _ = one(s, "Quillan Hexley")
        size = tried.setting.cap_height
        radius = 28.0 + (size / 2 if at == "top" else -size / 2)
        row = tried.placed[0].row
        scale = size / row.cap_units
        pieces = tried.placed[0].set_row.pieces
        for (a, b), (p, q) in zip(pairwise(pieces), pairwise(row.shapes), strict=True):

            def middle(placed):
                hull = s.hulls.get_hull(placed.shape)
                return placed.x + (hull[:, 0].min() + hull[:, 0].max()) / 2

            straight = (middle(q) - middle(p)) * scale
            arc = abs(math.remainder(b.turn - a.turn, 2 * math.pi)) * radius
            assert arc == pytest.approx(straight, rel=1e-9)

    def test_letters_stand_outwards_on_top_and_inwards_below(self):
        for at, sign in (("top", 1), ("bottom", -1)):
            tried, _ = one(self.setter(at), "Ida Vex")
            distances = [np.hypot(*(hull - (75, 90)).T) for hull in tried.placed[0].hulls]
            capital = distances[0]
            size = tried.setting.cap_height
            assert capital.mean() > 28 if sign > 0 else capital.mean() < 28
            assert abs(capital.max() - capital.min()) < size * 1.4

    def test_centred_on_top(self):
        tried, _ = one(self.setter(), "Vav")  # its outline is close to a palindrome
        points = np.concatenate(tried.placed[0].hulls)
        angles = np.arctan2(points[:, 1] - 90, points[:, 0] - 75)
        assert (angles.min() + angles.max()) / 2 == pytest.approx(math.pi / 2, abs=0.02)

    def test_a_line_too_long_for_its_arc_is_stopped(self):
        _, findings = one(self.setter(), " ".join(["Quillan Hexley"] * 9))
        assert "fit.too-long" in findings


def test_another_face_is_proposed_when_one_fits_at_the_designed_size():
    s = setter({"face": "cinzel", "cap_height": 8.0, "smallest": 7.5, "breaks": 1})
    tried, findings = one(s, "Wilhelmina Schwarzenbrunn")
    assert tried.setting is None
    advice = format_for_client(findings["fit.too-long"])
    assert "Oswald, a narrower typeface" in advice or "a narrower typeface" in advice
    offered = advice.split("Set all names in ")[1].split(",")[0]
    name = next(source.name for source in s.coverage.shelf.faces if source.title == offered)
    again, _ = one(setter({"face": name, "cap_height": 8.0, "smallest": 8.0, "breaks": 1}), "Wilhelmina Schwarzenbrunn")
    assert again.setting.cap_height == 8.0
