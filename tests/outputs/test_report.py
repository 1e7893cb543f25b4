"""report.json: the field names that users rely on, numbers in mm, equal bytes for equal runs."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from pipeline.core.errors import CannotRun
from pipeline.core.measured_values import Measurement
from pipeline.core.model import Artwork
from pipeline.outputs.report import build_report, write_report, write_report_lines
from tests import builders

TOP = {"schema", "tool", "order", "list", "counts", "findings", "plaques"}
PLAQUE = {"row", "cell", "text", "raw", "copies", "state", "fingerprint", "cut_file", "lines", "findings"}
LINE = {"text", "face", "cap_height", "tracking", "rows", "width", "slack", "stroke", "stroke_after_sanding", "land"}
FINDING = {"code", "severity", "line", "glyph", "at", "measured", "limit", "unit", "message", "remedy"}


@pytest.fixture(scope="module")
def outcome():
    return builders.outcome()


@pytest.fixture(scope="module")
def report(outcome):
    return json.loads("".join(write_report_lines(outcome, builders.folder())))


def test_every_documented_field_is_there(report):
    assert report.keys() >= TOP
    assert report["tool"].keys() >= {"name", "version", "libraries"}
    assert report["order"].keys() >= {"title", "client", "sha256"}
    assert report["list"].keys() >= {"file", "sheet", "sha256", "rows", "recipients"}
    assert report["counts"].keys() >= {"plaques", "copies", "ready", "ask", "stopped"}
    for plaque in report["plaques"]:
        assert plaque.keys() >= PLAQUE
        for line in plaque["lines"]:
            assert line.keys() >= LINE | {"groove_depth"}
        for finding in plaque["findings"]:
            assert finding.keys() >= FINDING


def test_counts_add_up_and_pieces_exclude_stopped_plaques(report):
    counts = report["counts"]
    assert counts["ready"] + counts["ask"] + counts["stopped"] == counts["plaques"] == 8
    assert (counts["ask"], counts["stopped"]) == (1, 2)
    assert counts["copies"] == 7  # six plaques that can be cut, one of them twice


def test_plaques_are_in_list_order_with_their_raw_text(report):
    assert [p["row"] for p in report["plaques"]] == list(range(5, 13))
    tidied = report["plaques"][4]
    assert (tidied["text"][0], tidied["raw"]["name"]) == ("Oyvind Storm", "  Oyvind  Storm ")


def test_stopped_plaques_have_neither_fingerprint_nor_file(report):
    for plaque in report["plaques"]:
        stopped = plaque["state"] == "stopped"
        assert (plaque["fingerprint"] is None) == (plaque["cut_file"] is None) == stopped


def test_lengths_are_mm_and_messages_in_the_order_s_unit(outcome):
    inches = build_report(outcome, builders.folder(units="in"))
    stop = next(f for p in inches["plaques"] for f in p["findings"] if f["code"] == "fit.too-long")
    assert stop["measured"] == -9.3
    assert "0.3661 in" in stop["message"]  # 9.3 mm / 25.4, the international inch
    assert inches["plaques"][0]["lines"][0]["cap_height"] == 8.0


def test_shared_lines_are_reported_with_each_plaque_s_measurements(outcome):
    """Text and plain values are equal on a line that two plaques share but that was measured differently."""
    first, second, *others = outcome.plaques
    shared = first.artwork.lines[1]
    other = (Measurement(name="groove_depth", value=0.625),)
    measures = tuple(replace(m, measurements=other) if m.line == shared.line else m for m in first.measures)
    again = replace(second, artwork=Artwork(lines=(second.artwork.lines[0], shared)), measures=measures)
    odd = replace(outcome, plaques=(first, again, first, replace(second, measures=()), *others))
    wanted = [json.dumps(p, ensure_ascii=False) for p in build_report(odd, builders.folder())["plaques"]]
    told = "".join(write_report_lines(odd, builders.folder()))
    assert [line.strip().rstrip(",") for line in told.splitlines() if line.startswith("  ")] == wanted
    depths = [next(x["groove_depth"] for x in json.loads(p)["lines"] if x["line"] == shared.line) for p in wanted[:2]]
    assert depths[0] != depths[1] == 0.625


def test_nan_and_infinity_become_null_and_the_file_stays_json(outcome):
    plaque = outcome.plaques[0]
    lines = tuple(replace(line, slack=math.inf) for line in plaque.artwork.lines)
    odd = replace(outcome, plaques=(replace(plaque, artwork=Artwork(lines=lines)),))
    assert json.loads("".join(write_report_lines(odd, builders.folder())))["plaques"][0]["lines"][0]["slack"] is None


def test_equal_runs_give_equal_bytes_and_the_file_is_written_whole(outcome, tmp_path):
    for name in ("a.json", "b.json"):
        write_report(tmp_path / "out" / name, outcome, builders.folder())
    assert (tmp_path / "out" / "a.json").read_bytes() == (tmp_path / "out" / "b.json").read_bytes()
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["a.json", "b.json"]


def test_a_lone_surrogate_in_a_cell_does_not_end_the_run(tmp_path):
    odd = builders.outcome((builders.plaque(5, "Ada", raw="Ad\ud83da"),))
    write_report(tmp_path / "report.json", odd, builders.folder())
    assert json.loads((tmp_path / "report.json").read_bytes())["plaques"][0]["raw"]["name"] == "Ad\ud83da"


def test_a_place_that_cannot_be_written_is_named(outcome, tmp_path):
    (tmp_path / "out").write_text("a file where the folder should be")
    with pytest.raises(CannotRun, match=r"report\.json"):
        write_report(tmp_path / "out" / "report.json", outcome, builders.folder())


def test_internal_errors_are_reported_with_their_row(outcome):
    faulty = replace(outcome, faults=((9, "Traceback …\nKeyError: 'x'"),))
    report = build_report(faulty, builders.folder())
    assert report["faults"] == [{"row": 9, "trace": "Traceback …\nKeyError: 'x'"}]
    assert report["counts"]["faults"] == 1
