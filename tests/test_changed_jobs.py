"""A job changed by an edit equals the one built from the order with that edit."""

import shutil

import ezdxf

from pipeline.batch import prepare_job
from pipeline.core.config.order_edits import apply_edits, build_face_edits
from pipeline.core.design_faults import find_design_faults
from pipeline.design_advice import DesignAdvisor
from pipeline.order_inputs import read_inputs
from tests.advised import MadeUp
from tests.layout.test_narrower_letters import FONT, FONTS


def made(**line):
    return MadeUp(
        {
            "title": "Signs",
            "list": {"file": "list.csv", "columns": {"name": "Name"}},
            "blank": {"shape": "rectangle", "width": 110.0, "height": 40.0, "thickness": 6.0, "margin": 3.0},
            "cutter": {"use": "vbit-60"},
            "reading": {"distance": 800.0},
            "line": [{"text": "{name}", "face": "noto-sans", "cap_height": 16.0, **line}],
        },
        [["Name"], ["Ida"], ["Bo"]],
    )


def test_strokes_of_the_new_typeface_are_checked(tmp_path):
    """Its capital I is measured too (read.stroke-light)."""
    job = prepare_job(read_inputs(made().write(tmp_path / "a")))
    order = job.folder.order
    edited = job.change_order(apply_edits(order, build_face_edits(1, order.line[0], "eb-garamond")))
    anew = prepare_job(read_inputs(made(face="eb-garamond").write(tmp_path / "b")))
    assert edited.stems.keys() == anew.stems.keys() != job.stems.keys()


def test_strokes_of_narrowed_letters_are_checked(tmp_path):
    folder = made(face=FONT, least_width=75).write(tmp_path / "a")
    shutil.copy(FONTS / FONT, folder)
    job = prepare_job(read_inputs(folder))
    (narrowed,) = job.setter.get_faces_at(1, 80.0)
    assert {narrowed.identity, job.faces[0][0].identity} <= job.stems.keys()


def test_a_design_is_tried_beside_the_artwork(tmp_path):
    """Typefaces in which names fit the plate, but not beside the crest, are not advised."""
    ways = {}
    for crest in (False, True):
        order = made(face="eb-garamond", cap_height=5.0, align="right")
        del order.order["reading"]
        order.rows = [["Name"], *([f"{name} Larandal"] for name in ("Nan", "Ana", "Lan", "Dan"))]
        if crest:
            order.order["artwork"] = [{"file": "crest.dxf", "at": [34.4, 20.0], "width": 60.8}]
        folder = order.write(tmp_path / str(crest))
        drawing = ezdxf.new()
        drawing.header["$INSUNITS"] = 4
        drawing.modelspace().add_lwpolyline([(0, 0), (30, 0), (30, 8), (0, 8)], close=True)
        drawing.saveas(folder / "crest.dxf")
        job = prepare_job(read_inputs(folder))
        plaques = [job.make_plaque(r) for r in read_inputs(folder).chosen]
        for fault in find_design_faults(plaques, job.folder.order):
            ways[crest] = DesignAdvisor(job, plaques, [p.recipient for p in plaques]).advise(fault).ways
    named, beside = ({dict(w.facts)["face"] for w in ways[crest] if "face" in dict(w.facts)} for crest in (False, True))
    assert named - beside, (named, beside)
