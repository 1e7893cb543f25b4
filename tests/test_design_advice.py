"""Faults of the design: reported to the maker once per line, with edits that resolve them on every plaque; the proof
is held back while there are many. The advice is typed into the order file, the order is run again, and the line is
right."""

from dataclasses import replace

import openpyxl
import pytest

from pipeline.core.design_faults import is_many
from pipeline.core.findings import Edit
from pipeline.design_advice import LINES
from pipeline.run import run_order
from tests.advised import MadeUp

NAMES = (
    "Ana Larneld", "Alan Lander", "Nel Nardellan", "Lena Alanelar", "Arne Landrellan", "Ada Nedral",
    "Nan Alderan", "Lea Naldenra",
)  # fmt: skip
"""Of few letters, because every letter is measured in every typeface that is tried."""


def design(names=NAMES, **line):
    """Return plates of these names, set in hairlines that the bit can't cut unless stated otherwise."""
    lines = [{"text": "{name}", "face": "eb-garamond", "cap_height": 5.0, **line}]
    return MadeUp(
        {
            "title": "Plates",
            "list": {"file": "list.csv", "columns": {"name": "Name"}},
            "blank": {"shape": "rectangle", "width": 110.0, "height": 40.0, "thickness": 6.0, "margin": 3.0},
            "cutter": {"use": "vbit-60"},
            "limits": {"land": 0.05},
            "line": lines,
        },
        [["Name"], *([name] for name in names)],
    )


@pytest.mark.parametrize("count, of, many", [(3, 3, False), (4, 4, True), (4, 80, False), (5, 99, True), (0, 0, False)])
def test_many_is_more_than_three_and_more_than_a_twentieth(count, of, many):
    assert is_many(count, of) is many


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    folder = design().write(tmp_path_factory.mktemp("held"))
    (folder / "out").mkdir()
    (folder / "out" / "proof.pdf").write_bytes(b"of an earlier run")
    return folder, run_order(folder)


def test_a_fault_of_the_design_is_told_once_a_line_and_the_proof_is_held_back(held):
    folder, done = held
    (fault,) = done.outcome.design
    assert fault.line == 1 and fault.rows == tuple(range(2, 10)) and fault.names == NAMES and fault.of == 8
    assert "line 1, eb-garamond 5.00 mm: 8 of 8 too fine" in done.summary
    assert done.summary.count("stroke.too-thin") == 1
    assert "The proof is held back" in done.summary and "8 of 8 plaques" in done.summary
    assert not [*(folder / "out").glob("proof*.pdf")]  # nor an earlier run's, which somebody might send
    assert done.outcome.proof_held and not done.broken and done.exit_status == 1
    report = done.report
    assert report["proof_held"] and report["design"][0]["rows"] == [*fault.rows]
    told = openpyxl.load_workbook(folder / "out" / "check.xlsx")["Whole order"]
    assert next(row[0].value for row in told.iter_rows(min_row=2)) == "design"


def test_no_letter_is_given_to_a_proof_that_is_held_back(held):
    folder, _ = held
    assert not (folder / "sent").exists()
    again = run_order(folder)
    assert again.revision.letter == "A"


def test_every_way_offered_resolves_the_fault_on_every_plaque(held, tmp_path):
    _, done = held
    (fault,) = done.outcome.design
    assert {way.code for way in fault.ways} >= {"line-face"}
    for n, way in enumerate(fault.ways):
        changed = run_order(design().with_edits(way.edits).write(tmp_path / str(n)), files=False)
        assert not changed.outcome.design, (way, changed.summary)
        assert all(p.state != "stopped" for p in changed.outcome.plaques)


@pytest.mark.parametrize("unfinished", ["leave-out", "show"])
def test_a_proof_may_leave_out_plaques_to_be_corrected_later(tmp_path, unfinished):
    made = design((*NAMES, "I"))
    made.order["proof"] = {"unfinished": unfinished}
    done = run_order(made.write(tmp_path))
    assert (tmp_path / "out" / "proof.pdf").exists() and not done.outcome.proof_held and not done.broken
    assert "held back" not in done.summary


def test_a_few_do_not_hold_the_proof_back_and_have_nothing_to_choose(tmp_path):
    import pikepdf

    made = design(face="noto-sans")
    made.order["line"].append({"text": "{post}", "face": "eb-garamond", "cap_height": 4.0})
    made.order["list"]["columns"]["post"] = "Post"
    made.rows = [["Name", "Post"], *([name, "Warden" if n < 2 else ""] for n, name in enumerate(NAMES))]
    done = run_order(made.write(tmp_path))
    assert sum(p.state == "stopped" for p in done.outcome.plaques) == 2
    with pikepdf.open(tmp_path / "out" / "proof.pdf") as pdf:
        names = [str(w.get("/T", "")) for page in pdf.pages for w in page.obj.get("/Annots", ())]
    assert not [name for name in names if name.startswith("choice_")]
    assert not done.broken and done.exit_status == 1


def test_many_names_too_long_are_a_fault_of_the_design_and_one_is_a_question(tmp_path):
    long = [f"{name} of the Society of Friends of {name}" for name in NAMES]
    many = run_order(design(long, face="noto-sans").write(tmp_path / "many"))
    assert [c.code for c in many.outcome.design[0].faults] == ["fit.too-long"] and many.outcome.proof_held
    one = run_order(design((*NAMES, long[0]), face="noto-sans").write(tmp_path / "one"))
    assert not one.outcome.design and not one.outcome.proof_held
    assert "[fit.too-long]" in one.summary


LONG = (
    "Leandrella Alandarnelan", "Annadarlena Nandallena", "Arnelda Larnell-Alandern", "Nelandranel Nardellan",
    "Adelanna Lander Nallena", "Lenardala Alder-Nanne",
)  # fmt: skip


def takes(made, way, folder):
    """Return whether the order with this edit has no fault of the design and no stopped plaque."""
    changed = run_order(made.with_edits(way.edits).write(folder), files=False)
    return not changed.outcome.design and all(p.state != "stopped" for p in changed.outcome.plaques)


def test_a_line_too_long_on_many_plaques_has_several_ways_each_tried_the_least_change_first(tmp_path):
    made = design(LONG, face="noto-sans", cap_height=6.0, smallest=5.5)
    made = made.with_edits((Edit(table="blank", key="width", value=78.0),))
    done = run_order(made.write(tmp_path / "first"), files=False)
    (fault,) = done.outcome.design
    assert [count.code for count in fault.faults] == ["fit.too-long"]
    assert 2 <= len(fault.ways) <= 3 and len({way.code for way in fault.ways}) == len(fault.ways)
    changed = [{edit.key for edit in way.edits} for way in fault.ways]
    assert changed == sorted(changed, key=lambda keys: ("face" in keys, len(keys), "smallest" in keys)), changed
    assert all(takes(made, way, tmp_path / str(n)) for n, way in enumerate(fault.ways))


def test_names_too_fine_and_too_long_have_several_changes_together_none_of_which_can_be_left_out(tmp_path):
    """In hairlines of 5 mm that have to be 8 mm for the bit, at which two names don't fit in one row."""
    names = ("Piers Quarrington", "Ada Kelding", "Wren Saltram", "Gwen Ravensby")
    made = design([f"{one} {other}" for one, other in zip(names, names[1:] + names[:1], strict=True)], cap_height=5.0)
    made.order["limits"] = {}
    done = run_order(made.write(tmp_path / "first"), files=False)
    (fault,) = done.outcome.design
    (way,) = fault.ways
    assert way.code == "together" and "no single change is enough" in done.summary
    assert {edit.key for edit in way.edits} == {"cap_height", "breaks"}  # in its own typeface, because that is possible
    assert takes(made, way, tmp_path / "all")
    for n, left_out in enumerate(way.edits):
        fewer = replace(way, edits=tuple(e for e in way.edits if e is not left_out))
        assert not takes(made, fewer, tmp_path / str(n)), left_out


def test_where_nothing_helps_the_nearest_way_is_reported_with_what_stays_wrong(tmp_path):
    longest = [f"{name} of the Society of Friends of {name}" for name in NAMES[:5]]
    made = design([*NAMES[:3], *longest, *LONG[:2]], face="noto-sans", cap_height=7.0)
    made = made.with_edits((Edit(table="blank", key="height", value=16.0),))
    done = run_order(made.write(tmp_path), files=False)
    (fault,) = done.outcome.design
    (way,) = fault.ways
    assert way.code == "nearest" and not way.edits
    facts = dict(way.facts)
    assert facts["left"] == len(longest) and facts["of"] == 3 + len(longest) + 2
    assert done.summary.count("nothing that was tried puts all of them right") == 1


def test_a_smaller_least_limit_is_never_advice_on_a_design(tmp_path):
    made = design()
    made.order["limits"]["stroke"] = 0.3
    done = run_order(made.write(tmp_path), files=False)
    edits = [edit for fault in done.outcome.design for way in fault.ways for edit in way.edits]
    assert edits and not [e for e in edits if e.table == "limits"]


def test_a_text_of_three_hundred_letters_is_not_tried_at_sizes_that_nobody_would_take(tmp_path):
    """No size below half of the smallest is advised: setting and measuring these would take for ever."""
    endless = " ".join([*NAMES, *LONG])[:300]
    made = design((*NAMES, endless), face="noto-sans", cap_height=6.0, smallest=4.0, breaks=3)
    done = run_order(made.write(tmp_path), files=False)
    (long,) = [p for p in done.outcome.plaques if p.state == "stopped"]
    (finding,) = [f for f in long.findings if f.code == "fit.too-long"]
    assert float(finding.get_fact("fits_at")) < 2.0
    assert not [way for way in finding.ways if way.code == "smallest"]


def test_one_text_that_no_design_would_take_keeps_no_advice_from_the_others(tmp_path):
    """The client has to shorten it; once the advice is followed, only a question about it is left."""
    endless = " ".join([*NAMES, *LONG])[:300]
    made = design((*LONG, *NAMES[:2], endless), face="noto-sans", cap_height=6.0, smallest=5.5)
    made = made.with_edits((Edit(table="blank", key="width", value=78.0),))
    done = run_order(made.write(tmp_path / "first"), files=False)
    (fault,) = done.outcome.design
    assert fault.ways and all(way.edits for way in fault.ways)
    for n, way in enumerate(fault.ways):
        changed = run_order(made.with_edits(way.edits).write(tmp_path / str(n)), files=False)
        assert not changed.outcome.design
        assert [p.name for p in changed.outcome.plaques if p.state == "stopped"] == [endless]


def test_a_line_that_fits_at_no_size_gets_no_advice_on_its_lettering(tmp_path):
    made = design(NAMES, face="noto-sans", arc={"radius": 18.0, "sweep": 200.0}, cap_height=4.0, smallest=3.0)
    done = run_order(made.write(tmp_path), files=False)
    (fault,) = done.outcome.design
    assert not fault.ways and "change the zone" in done.summary


def test_of_many_faulty_lines_the_first_are_tried_and_the_others_are_said_not_to_be(tmp_path):
    """Each line tried takes seconds; an order of thousands of faulty lines still ends."""
    order = design(names=("Nan", "Ann", "Ana", "Naa"), align="centre")
    order.order["blank"]["height"] = 120.0
    order.order["line"] = [{**order.order["line"][0]} for _ in range(LINES + 2)]
    done = run_order(order.write(tmp_path), files=False)
    assert [fault.line for fault in done.outcome.design] == [1, 2, 3, 4, 5, 6]
    assert [fault.untried for fault in done.outcome.design] == [False] * LINES + [True] * 2
    assert all(bool(fault.ways) is not fault.untried for fault in done.outcome.design)
    assert " ".join(done.summary.split()).count("no other design was tried for this line") == 2


def test_where_every_name_is_hopeless_trials_are_not_said_to_take_long(tmp_path):
    """Two names no design would take: nothing is tried, however short the list."""
    made = design(names=("Skuatern" * 40, "Ternskua" * 40))
    made.order["blank"]["height"] = 120.0
    made.order["line"] = [made.order["line"][0], {**made.order["line"][0], "text": "nilun"}]
    done = run_order(made.write(tmp_path), files=False)
    assert [(fault.line, fault.untried, fault.ways) for fault in done.outcome.design] == [(2, False, ())]
    assert "takes long" not in " ".join(done.summary.split())
