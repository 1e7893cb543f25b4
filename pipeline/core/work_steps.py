"""The order of the work on a piece, and what comes off its face after it is lettered.

Which steps a job has, and what each takes, is decided elsewhere; here is only in which order they come. The maker may
set it: `[work] steps`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.core.config.shop_tables import WorkStep

if TYPE_CHECKING:
    from pipeline.core.config.order import Order

START: tuple[WorkStep, ...] = ("face", "test")
END: tuple[WorkStep, ...] = ("sand", "finish", "pack")

SAID: dict[WorkStep, str] = {
    "face": "facing the stock", "test": "the test piece", "mask": "masking", "letter": "lettering",
    "pocket": "milling the pocket", "outline": "cutting the outline", "back": "lettering the back", "pour": "pouring",
    "level": "levelling the resin", "saw": "sawing", "resaw": "sawing the back off", "sand": "sanding",
    "finish": "the finish", "pack": "packing",
}  # fmt: skip
"""Steps in words, for what is said of their order."""


@dataclass(frozen=True, slots=True)
class StepConflict:
    """Two steps that stand the wrong way round, and why."""

    first: WorkStep
    second: WorkStep
    reason: str


def list_usual_steps(order: Order) -> tuple[WorkStep, ...]:
    """List every step in the order that suits the job, whether the job has it or not.

    Resin in a pocket is poured, cured and levelled first, and the level face is lettered. Resin in the letters comes
    after them. A back is lettered while boards are whole, or after it was sawn off.
    """
    fills = order.pour.fills if order.pour is not None else ""
    resawn = order.stock is not None and order.stock.sawn_off > 0
    back: tuple[WorkStep, ...] = ("back",)
    middle: tuple[WorkStep, ...]
    if fills in ("lettering", "both"):
        middle = ("mask", "letter", "pocket", "outline", *(() if resawn else back), "pour", "level")
    elif fills:
        middle = ("mask", "pocket", "pour", "level", "letter", "outline", *(() if resawn else back))
    else:
        middle = ("mask", "letter", "pocket", "outline", *(() if resawn else back), "pour", "level")
    return (*START, *middle, "saw", "resaw", *(back if resawn else ()), *END)


def list_steps(order: Order) -> tuple[WorkStep, ...]:
    """List every step in the order's own sequence: those that [work] names take each other's usual places."""
    usual, own = list_usual_steps(order), iter(order.work.steps)
    named = {*order.work.steps}
    return tuple(next(own) if step in named else step for step in usual)


def compute_off_face(order: Order, step: WorkStep) -> float:
    """Compute what a step takes off the face, mm."""
    if step == "level" and order.pour is not None:
        return order.pour.levelled_off or 0.0
    return order.sanding if step == "sand" else 0.0


def compute_off_after_lettering(order: Order) -> float:
    """Compute what comes off the face after it is lettered, mm: strokes are thinner by it, and can be cut wider for
    it."""
    steps = list_steps(order)
    return sum(compute_off_face(order, step) for step in steps[steps.index("letter") + 1 :])


def compute_off_before_lettering(order: Order) -> float:
    """Compute what comes off the face of the blank, as it goes under the cutter, before it is lettered, mm."""
    steps = list_steps(order)
    return sum(compute_off_face(order, step) for step in steps[: steps.index("letter")])


def find_step_conflicts(order: Order) -> Iterator[StepConflict]:
    """Steps that [work] has put the wrong way round. first stands before second, and should not."""
    steps = list_steps(order)
    fills = order.pour.fills if order.pour is not None else ""
    rules: list[tuple[WorkStep, WorkStep, str]] = []  # a step, the step that has to follow it, reason
    if fills:
        rules += [("pour", "level", "there is nothing to level yet")]
        rules += [("level", "sand", "resin that stands proud keeps the paper off the face")]
        if fills in ("pocket", "both"):
            rules.append(("pocket", "pour", "there is no pocket to pour into yet"))
        if fills == "pocket":
            rules.append(("level", "letter", "levelling the resin takes the face that was lettered down with it"))
        else:
            rules.append(("letter", "pour", "there are no letters to fill yet"))
        rules.append(("pour", "resaw", "the back holds the resin while it cures"))
    rules += [("saw", "resaw", "a board is sawn apart before its pieces are resawn")] if order.board is not None else []
    if order.stock is not None and order.stock.sawn_off > 0:
        rules.append(("resaw", "back", "what is lettered on the back is sawn off with it"))
    rules.append(("face", "letter", "facing takes the lettering off again"))
    rules.append(("sand", "finish", "sanding takes the finish off again"))
    for before, after, why in rules:
        if steps.index(after) < steps.index(before):
            yield StepConflict(after, before, why)
