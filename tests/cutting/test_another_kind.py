"""A new kind of cutter takes a class and its entries in the registry and in the order's table: nothing else asks for a
cutter's kind. Tried with a ball-nose, whose cut is round at the bottom."""

from __future__ import annotations

import math
import pickle
from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import BytesIO
from typing import Literal, get_args

import numpy as np
import pypdf
import pytest

from pipeline.core.config.order import CutterConfig, CutterKind, FilesConfig, LimitsConfig, OrderFolder
from pipeline.core.config.order_table import NEEDED_SIZE
from pipeline.core.errors import CannotRun
from pipeline.core.measured_values import GROOVE_DEPTH
from pipeline.core.storage.cache import Cache
from pipeline.cutting.cutters import (
    CUTTER_KINDS,
    Cutter,
    EndMill,
    EngravingPoint,
    Laser,
    VBit,
    choose_cutter,
    list_resolved_values,
    resolve_cutter,
)
from pipeline.order_inputs import OrderInputs, read_inputs
from pipeline.order_state import build_outcome, check_plaques
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.proof.proof import write_proof_files
from pipeline.outputs.shop_sheet.shop_sheet import write_sheet
from pipeline.shopfloor.shop_plan import plan_shop
from pipeline.shopfloor.toolpath import ToolpathPlanner, plan_line_toolpath
from tests.advised import MadeUp


@dataclass(frozen=True, slots=True, kw_only=True)
class BallNose(Cutter):
    """A cylindrical cutter with a hemispherical end: down to its radius, its cut is narrower than itself."""

    kind = "ball-nose"
    needs = "diameter"
    clears_areas = True
    turns = True
    travel = "all that the ball gets into, in loops"

    @property
    def line_width(self) -> float:
        """The greatest width it cuts."""
        return self.diameter or 0.0

    def compute_width(self, depth: float) -> float:
        """The chord of its circle."""
        radius = self.line_width / 2
        return 2 * math.sqrt(depth * (2 * radius - depth)) if depth < radius else 2 * radius

    def compute_section(self, depth: float) -> float:
        """The segment of its circle, and the band above it."""
        radius = self.line_width / 2
        low, above = min(depth, radius), max(depth - radius, 0.0)
        segment = radius**2 * math.acos((radius - low) / radius) - (radius - low) * self.compute_width(low) / 2
        return segment + above * 2 * radius


class BallNoseTable(CutterConfig, resolved="use kind angle tip diameter kerf reach", making="depth_per_pass"):
    """[cutter] with one more kind."""

    kind: Literal["ball-nose"] | None = None


BALL = BallNoseTable(kind="ball-nose", diameter=0.8)


@pytest.fixture(autouse=True)
def registered() -> Iterator[None]:
    CUTTER_KINDS["ball-nose"] = BallNose
    yield
    del CUTTER_KINDS["ball-nose"]


@pytest.fixture
def read(tmp_path) -> OrderInputs:
    order = {
        "title": "Trial",
        "list": {"file": "list.csv", "columns": {"name": "Name", "post": "Post"}},
        "blank": {"shape": "rectangle", "width": 200.0, "height": 60.0, "thickness": 19.0, "margin": 3.0},
        "cutter": {"use": "endmill-0-8"},
        "limits": {"deepest": 0.4},
        "line": [
            {"text": "{name}", "face": "roboto-slab", "cap_height": 14.0},
            {"text": "{post}", "face": "hershey-futural", "cap_height": 8.0},
        ],
        "stock": {"material": "oak", "rough": 25.0, "faced": 1.5},
        "rates": {"hour": 30.0},
        "files": {"also": ["svg"]},
    }
    made = read_inputs(MadeUp(order, [["Name", "Post"], ["Ida Vex", "Warden"]]).write(tmp_path / "order"), fresh=True)
    return replace(made, folder=with_cutter(made.folder, BALL))


def with_cutter(folder: OrderFolder, part: CutterConfig) -> OrderFolder:
    return folder.model_copy(update={"order": folder.order.model_copy(update={"cutter": part})})


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages).split())


def test_an_order_is_made_with_it(read, tmp_path):
    made = check_plaques(read)
    (plaque,) = made.plaques
    assert plaque.state != "stopped", plaque.findings
    assert {m.get_figure(GROOVE_DEPTH) for m in plaque.measures} == {None}
    plan, _ = plan_shop(read.folder, read.blank, made.plaques)
    assert plan.cutter == BallNose(name="ball-nose", diameter=0.8, source="[cutter] in order.toml")
    outcome = build_outcome(read, made, ())
    sheet = text_of(write_sheet(outcome, read.folder, plan)[0])
    assert "With ball-nose. Line 0.8 mmᶜ wide, 0.4 mmᵃ deep at most." in sheet
    assert "all that the ball gets into, in loops" in sheet
    assert "eyes and ears protected" in sheet and "Stick-out" in sheet
    (proof,) = write_proof_files(outcome, read.folder)
    assert "Ida Vex" in text_of(proof.data)
    files = CutFiles(read.folder, read.blank, tmp_path / "out", "1")
    files.begin()
    files.make(plaque)
    files.finish()
    assert list((tmp_path / "out").rglob("*.dxf")) and list((tmp_path / "out").rglob("*.svg"))
    assert dict(made.job.resolved)["kind"] == "ball-nose"
    ends = read.folder.order.model_copy(update={"cutter": CutterConfig(kind="end-mill", diameter=0.8)})
    assert list_resolved_values(ends, *resolve_cutter(ends, 19.0)) != made.job.resolved
    with_mill = replace(read, folder=read.folder.model_copy(update={"order": ends}))
    assert check_plaques(with_mill).plaques[0].fingerprint != plaque.fingerprint


def test_the_volume_it_removes_accounts_for_its_round_bottom():
    """A circular segment: at the radius half its area, and vertical walls from there on."""
    ball = BallNose(name="b", diameter=3.0)
    assert ball.compute_width(1.5) == 3.0 and ball.compute_width(0.3) == pytest.approx(1.8)
    assert ball.compute_section(1.5) == pytest.approx(math.pi * 1.5**2 / 2)
    assert ball.compute_section(2.0) == pytest.approx(math.pi * 1.5**2 / 2 + 0.5 * 3.0)
    way = plan_line_toolpath([np.array([[0, 0], [10, 0]], float)], ball, (1.5, 1))
    assert way.volume == pytest.approx(10 * math.pi * 1.5**2 / 2, abs=1e-5)


def test_its_faults_are_reported_like_those_of_any_cutter(read, tmp_path):
    with pytest.raises(CannotRun, match=r"diameter: missing; expected a number: kind = .ball-nose. needs it"):
        choose_cutter(BallNoseTable(kind="ball-nose"))
    grooves = read.folder.order.model_copy(update={"files": FilesConfig(grooves=True)})
    with pytest.raises(CannotRun, match="ball-nose cuts no grooves"):
        CutFiles(read.folder.model_copy(update={"order": grooves}), read.blank, tmp_path / "out", "1")


def test_cached_values_of_one_kind_are_not_used_for_another_of_the_same_size(read):
    """Both have the same diameter; the lines of the point and the laser are equally wide."""
    artwork = check_plaques(read).plaques[0].artwork
    order = read.folder.order.model_copy(update={"limits": LimitsConfig(deepest=0.6)})
    cache = Cache(None)
    cutters = [
        EndMill(name="c", diameter=1.0),
        BallNose(name="c", diameter=1.0),
        EngravingPoint(name="c", tip=1.0, kerf=1.0),
        Laser(name="c", tip=1.0, kerf=1.0),
        VBit(name="c", angle=60.0, tip=1.0),
    ]
    shared = [ToolpathPlanner(order, cutter, cache).plan_lettering(artwork) for cutter in cutters]
    assert shared == [ToolpathPlanner(order, cutter).plan_lettering(artwork) for cutter in cutters]
    assert shared[0] != shared[1] and shared[1] != shared[2]
    assert len(set(cutters)) == len({repr(cutter) for cutter in cutters}) == len(cutters)
    for cutter in cutters:
        again = pickle.loads(pickle.dumps(cutter))
        assert again == cutter and type(again) is type(cutter)


def test_the_order_table_and_the_classes_have_the_same_kinds():
    assert {*get_args(CutterKind), "ball-nose"} == CUTTER_KINDS.keys()
    own = {kind: made for kind, made in CUTTER_KINDS.items() if kind != "ball-nose"}
    assert {kind: made.needs for kind, made in own.items()} == NEEDED_SIZE
    assert all(made.kind == kind and made.needs in CutterConfig.model_fields for kind, made in CUTTER_KINDS.items())
    assert not any(made.cuts_grooves and made.clears_areas for made in CUTTER_KINDS.values())
