"""The size each name would be set at under each policy of `same_size`, for the size table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pipeline.core.config.order import Order
from pipeline.core.model import LineSizes, Plaque, PolicySizes, SizedName
from pipeline.layout.block import LineSetting
from pipeline.layout.typesetter import LineText, Typesetter

Chosen = Sequence[tuple[LineText, LineSetting | None]]
"""The lines of one plaque and how each was set; None where it does not fit."""


class SizePolicies:
    """Tries the policies on one plaque after the other.

    Only lines that were not set as designed are tried under the other policies: what fits as designed fits under all of
    them.
    """

    def __init__(self, setter: Typesetter) -> None:
        self.setter = setter
        self._others: dict[int, dict[str, Typesetter]] = {}

    def compare_sizes(self, chosen: Chosen) -> tuple[PolicySizes, ...]:
        """The lines of one plaque, in their order."""
        return tuple(self._compute_policy_sizes(text, setting, chosen) for text, setting in chosen)

    def _compute_policy_sizes(self, text: LineText, setting: LineSetting | None, chosen: Chosen) -> PolicySizes:
        part = self.setter.order.line[text.line - 1]
        own = setting.cap_height if setting else None
        designed = LineSetting(cap_height=part.cap_height, tracking=part.tracking, rows=text.typed or (text.text,))
        if setting == designed:
            return PolicySizes(text.line, text.words, own, own)
        mine = self.setter.list_needed_with(text.line)
        texts = [other for other, _ in chosen if other.line in mine]
        most, each = (own if part.same_size == p else self._find_size(text.line, p, texts) for p in ("most", "each"))
        return PolicySizes(text.line, text.words, most, each)

    def _find_size(self, line: int, policy: str, texts: Sequence[LineText]) -> float | None:
        found = next(t.setting for t in self._get_typesetter(line, policy).set_lines(texts) if t.text.line == line)
        return found.cap_height if found else None

    def _get_typesetter(self, line: int, policy: str) -> Typesetter:
        others = self._others.setdefault(line, {})
        if policy not in others:
            part = self.setter.order.line[line - 1]
            others[policy] = self.setter.replace_line(line, part.model_copy(update={"same_size": policy}))
        return others[policy]


def build_size_table(order: Order, plaques: Iterable[Plaque]) -> tuple[LineSizes, ...]:
    """The size table of every line of the order, from its plaques."""
    names: dict[int, list[SizedName]] = {number: [] for number in range(1, len(order.line) + 1)}
    for plaque in plaques:
        for s in plaque.sizes:
            names[s.line].append(SizedName(row=plaque.recipient.row, text=s.text, most=s.most, each=s.each))
    return tuple(
        LineSizes(line=number, same_size=part.same_size, designed=part.cap_height, names=tuple(names[number]))
        for number, part in enumerate(order.line, 1)
    )
