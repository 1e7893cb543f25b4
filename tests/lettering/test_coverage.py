"""What is reported about missing characters, restrictive licences and repaired outlines."""

import pytest

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.core import catalogue
from pipeline.core.units import Units
from pipeline.geometry.flatten import outline_area, path_area
from pipeline.lettering.coverage import Coverage, check_faces, check_line, describe_permission, list_characters
from pipeline.lettering.font_face import open_face
from pipeline.lettering.outlines import unite_contours
from pipeline.lettering.shaping import shape_row


@pytest.fixture(scope="module")
def coverage(shelf):
    return Coverage(shelf)


def said(face, coverage, name, text):
    faces = [face(name)]
    return check_line(2, text, faces=faces, rows=[shape_row(faces, text)], coverage=coverage, cap_height=8.0)


def test_a_missing_character_is_reported_with_the_faces_that_have_it(face, coverage):
    (finding,) = said(face, coverage, "cinzel", "Nguyễn Thị Phượng")
    assert finding.code == "face.glyph-missing" and finding.severity == "stop" and finding.line == 2
    assert "no “ễ” (U+1EC5), “ị” (U+1ECB), “ư” (U+01B0), “ợ” (U+1EE3) in Cinzel" in catalogue.format_message(finding)
    remedy = catalogue.format_remedy(finding)
    assert "eb-garamond" in remedy and "cinzel" not in remedy and "bodoni" not in remedy
    told = catalogue.format_for_client(finding)
    assert "Nguyễn Thị Phượng" in told and "“ễ”, “ị”, “ư”, “ợ”" in told and "U+" not in told


def test_a_mixed_line_gets_a_second_face_proposed(face, coverage):
    (finding,) = said(face, coverage, "eb-garamond", "Ida 高橋")
    assert 'also = ["droid-sans-fallback"]' in catalogue.format_remedy(finding)


def test_a_character_that_no_face_has_is_reported_as_such(face, coverage):
    (finding,) = said(face, coverage, "eb-garamond", "Ida \ue000")
    assert "no typeface on the shelf has these" in catalogue.format_remedy(finding)
    assert "U+E000" in catalogue.format_message(finding)


def test_characters_that_only_several_faces_together_have(face, coverage):
    (finding,) = said(face, coverage, "oswald", "עמר 高 عمر")
    assert "frank-ruhl-libre" in catalogue.format_remedy(finding) and "noto-naskh-arabic" in catalogue.format_remedy(
        finding
    )


def test_a_line_that_can_be_set_has_no_findings(face, coverage):
    assert said(face, coverage, "eb-garamond", "Nguyễn Thị Phượng") == ()


def test_invisible_characters_are_named_by_code():
    assert list_characters(["\u00a0"]) == "U+00A0 (no-break space)"
    assert list_characters(["\u0301"]) == "U+0301 (combining acute accent)"
    assert list_characters([chr(c) for c in range(0x4E00, 0x4E0A)]).endswith("and 2 more")


@pytest.mark.parametrize(
    ("fs_type", "forbidden"),
    [(0, False), (2, True), (4, False), (8, False), (2 | 4, False), (2 | 0x100, True), (0x200, False)],
)
def test_permissions_as_the_opentype_specification_reads_them(fs_type, forbidden):
    words, stops = describe_permission(fs_type)
    assert stops is forbidden and words


def test_a_restricted_font_raises_a_question(tmp_path, shelf):
    from fontTools.ttLib import TTFont

    font = TTFont(shelf["oswald"].path)
    font["OS/2"].fsType = 2
    font.save(tmp_path / "client.ttf")
    (finding,) = check_faces(1, [open_face("client.ttf", tmp_path), open_face("oswald", shelf=shelf)])
    assert finding.code == "face.licence-forbids" and finding.severity == "ask"
    assert "without the owner's leave" in catalogue.format_message(finding)


def test_a_crossing_outline_is_repaired_and_reported(tmp_path, shelf, coverage, monkeypatch):
    """The repair is forced: when a union fails, the careful method is used, and the finding reports its deviation."""
    from pipeline.lettering import outlines

    monkeypatch.setattr(outlines, "_is_sound", lambda *_: False)
    face = open_face("oswald", shelf=shelf)
    row = shape_row([face], "AO")
    found = check_line(1, "AO", faces=[face], rows=[row], coverage=coverage, cap_height=8.1)
    assert [f.glyph for f in found] == ["A", "O"]
    assert found[0].get_fact("deviation") == pytest.approx(1000 / 5000 * 8.1 / 810)
    assert "“A” in Oswald" in catalogue.format_message(found[0])
    assert "by more than 0.002 mm" in catalogue.format_message(found[0])
    assert "by more than 0.0001 in" in catalogue.format_message(found[0], Units("in"))
    plain = open_face("oswald", shelf=shelf)
    monkeypatch.undo()
    for glyph in (plain.font.get_nominal_glyph(ord(c)) for c in "AO"):
        from pipeline.geometry.flatten import outline_area

        assert outline_area(face.draw_glyph(glyph).outline) == pytest.approx(
            outline_area(plain.draw_glyph(glyph).outline), rel=1e-3
        )


def test_specks_are_left_out_and_reported(face, coverage):
    """EB Garamond's small capital b at 12 mm: a tiny stray contour beside the letter, .0006 mm²."""
    garamond = face("eb-garamond")
    row = shape_row([garamond], "Ab", features={"smcp": True})
    small = row.shapes[1].shape
    whole = unite_contours(garamond.get_contours(small.glyphs[0].glyph), garamond.cap_units, garamond.units_per_em)
    areas = sorted(abs(path_area(path)) * (12.0 / garamond.cap_units) ** 2 for path in whole.outline)
    assert areas[0] == pytest.approx(0.00065, abs=0.0001) and areas[1] > 0.5
    assert len(small.outline) == len(whole.outline) - 1
    assert outline_area(small.outline) == pytest.approx(outline_area(whole.outline), rel=1e-4)
    assert small.key.endswith("|less1") and "less" not in row.shapes[0].shape.key
    (finding,) = check_line(1, "Ab", faces=[garamond], rows=[row], coverage=coverage, cap_height=12.0)
    assert finding.code == "face.specks" and finding.glyph == "b"
    assert "1 of them, each less than 0.05 mm square" in catalogue.format_message(finding)
    # Without the speck, the stroke is that of the letter.
    stroke = GlyphMetrics().measure(small).stroke
    assert stroke.kind != "piece" and stroke.width * 12.0 / garamond.cap_units > 0.2


def test_letters_that_touch_a_letter_with_specks_lose_them_too(face, coverage):
    faces = [face("eb-garamond")]
    row = shape_row(faces, "bb", features={"smcp": True}, tracking=-250)
    (cluster,) = row.shapes
    assert cluster.shape.key.endswith("|less2")
    said = check_line(1, "bb", faces=faces, rows=[row], coverage=coverage, cap_height=9.0)
    assert [f.code for f in said] == ["face.specks"]


def test_the_smallest_dots_and_full_stops_are_not_specks(face):
    for name in ("eb-garamond", "noto-sans", "bodoni-moda", "great-vibes", "cinzel"):
        used = face(name)
        for shape in (s.shape for s in shape_row([used], "i.:ä·%", tracking=50).shapes):
            assert "less" not in shape.key


def test_a_letter_of_another_face_inside_a_word_is_asked_about(face, coverage):
    faces = [face("cinzel"), face("eb-garamond"), face("droid-sans-fallback")]

    def found(text):
        row = shape_row(faces, text)
        assert row.missing == ()
        return check_line(2, text, faces=faces, rows=[row], coverage=coverage, cap_height=8.0)

    (finding,) = found("NGUYỄN THỊ PHƯỢNG")
    assert (finding.code, finding.severity, finding.glyph) == ("face.mixed-word", "ask", "Ễ")
    said = catalogue.format_message(finding)
    assert said.endswith("“Ễ” (U+1EC4), “Ị” (U+1ECA), “Ư” (U+01AF), “Ợ” (U+1EE2)")
    assert "not in Cinzel, and taken from EB Garamond" in said and "lacks “Ễ”" in catalogue.format_for_client(finding)
    assert "eb-garamond" in catalogue.format_remedy(finding) and "cinzel" not in catalogue.format_remedy(finding)
    assert found("JÖRG WEIẞMÜLLER")[0].glyph == "ẞ"
    assert (
        found("Ida Vex 高橋") == () and found("Ida高橋") == ()
    )  # whole words, or scripts that no typeface has both of
    assert found("Ida Vex ễ") == ()  # a separate word, entirely in one typeface


def test_marks_do_not_make_a_word_mixed(face, coverage):
    faces = [face("cinzel"), face("frank-ruhl-libre")]
    for text in ("דָּוִד לֵוִי", "Ida (דָּוִד)", "Ida, 1998"):
        row = shape_row(faces, text)
        assert check_line(1, text, faces=faces, rows=[row], coverage=coverage, cap_height=8.0) == (), text


def test_an_outline_face_is_not_offered_to_an_engraving_point(face, coverage):
    (finding,) = said(face, coverage, "hershey-futural", "Laila ليلى")
    assert "also" not in catalogue.format_remedy(finding)
    assert "no typeface on the shelf has these as letters of one line; noto-naskh-arabic" in catalogue.format_remedy(
        finding
    )
    (finding,) = said(face, coverage, "hershey-futural", "Ida Ευθυμία")
    assert 'also = ["hershey-greeks"]' in catalogue.format_remedy(finding)
