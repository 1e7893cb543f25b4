"""Kinds of finding: jig.*. They belong to the order, and come once."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Kind, Severity

PLACES_OVERLAP = Kind(
    code="jig.places-overlap",
    severity=Severity.STOP,
    stops="jigs",
    message="neighbouring places of the jig overlap: the pitch is {pitch}, and the blank as it lies there is "
    "{width:mm} wide and {height:mm} high ({area:.1f} mm² of it in two places at once)",
    why="Two blanks can't lie in one place; lettering cut at this pitch would run over the neighbour.",
    remedy="measure the jig again",
    addressed="maker",
    ways=(ways.WIDER_PITCH,),
    source="the blank's outline, turned as in the jig, at the pitch of [jig]",
)
OUTSIDE_BED = Kind(
    code="jig.outside-bed",
    severity=Severity.STOP,
    stops="jigs",
    message="{places:place of the jig lies|places of the jig lie} where the machine doesn't get: the blanks reach from "
    "x {left:mm}, y {low:mm} to x {right:mm}, y {high:mm}, and it travels from 0 to {across:mm} and {up:mm}",
    why="The machine would run into its end and lose its zero point, and all that is cut afterwards lies wrong.",
    remedy="use fewer columns or rows, a smaller pitch, or another `first` place under [jig]; `bed` says how far the "
    "machine travels",
    addressed="maker",
    source="`bed` of [jig] against the outlines of all places",
)
BACK_DIFFERS = Kind(
    code="jig.back-differs",
    severity=Severity.ASK,
    message="pieces are lettered on the back too, and turned over the blank doesn't fit the same place: up to "
    "{measured} of its outline lies elsewhere",
    why="A piece that lies loose in a place made for its front is lettered out of line.",
    remedy="make a second jig with mirrored places for the back, to the same pitch and zero point, or letter the backs "
    "one by one from the files in cut/",
    addressed="maker",
    source="the blank's outline against its mirror image in the same place; 0.1 mm: common practice, no source",
)

KINDS: tuple[Kind, ...] = (PLACES_OVERLAP, OUTSIDE_BED, BACK_DIFFERS)
