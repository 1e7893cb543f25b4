"""The saw card: what guides each side suits the material and the size of the piece."""

from __future__ import annotations

import pytest

from pipeline.cutting.materials import find_material
from pipeline.outputs.shop_sheet.cautions import datum_edge
from pipeline.outputs.shop_sheet.saw_card import how_sawn
from pipeline.shopfloor.saw import straight_sides
from tests.builders import rectangle


@pytest.mark.parametrize("name", ["brass", "aluminium", "acrylic", "plywood", "slate", "horn", ""])
def test_only_what_is_planed_is_jointed(name: str) -> None:
    """A jointer is for wood; metal or plastic in it is an accident (common practice, no source)."""
    material = find_material(name)
    assert "oint" not in datum_edge(material, 1200.0)
    assert "oint" not in how_sawn(straight_sides(rectangle(0, 0, 60, 400), "none")[0], material)


def test_a_short_datum_side_is_not_jointed_and_a_long_end_goes_on_the_sled() -> None:
    """400 wide, 60 high, grain upright: the datum side is 60 long; on the mitre gauge an end of 400 mm would turn round
    its 60 mm and be thrown (common practice, no source, as is a least length of 300 mm for the jointer)."""
    wood = find_material("walnut")
    low = straight_sides(rectangle(0, 0, 400, 60), "upright")
    told = [how_sawn(side, wood) for side in low]
    assert told[0] == "plane or sand it by hand to the line (too short to joint): the datum side"
    assert not any("gauge" in how or "joint it" in how for how in told)
    assert told[1:3] == [
        "sled, datum side against its fence, clamped: square it",
        "sled, datum side against its fence, clamped, squared end against the stop block",
    ]
    tall = straight_sides(rectangle(0, 0, 60, 400), "upright")
    assert [how_sawn(side, wood) for side in tall] == [
        "joint it: the datum side",
        "rip along the fence, datum side against it",
        "square it on the mitre gauge, datum side against the gauge",
        "mitre gauge, squared end against the stop block",
    ]


@pytest.mark.parametrize(("length", "jointed"), [(299.0, False), (300.0, True)])
def test_a_board_or_a_side_is_jointed_from_300_mm(length: float, jointed: bool) -> None:
    wood = find_material("oak")
    side = straight_sides(rectangle(0, 0, 100, length), "upright")[0]
    assert ("joint it" in how_sawn(side, wood)) == jointed
    assert datum_edge(wood, length).startswith("Joint") == jointed
