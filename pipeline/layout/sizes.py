"""What each policy of `same_size` makes of every name: the size it would be set at, for the size table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.core.model import LineSizes, SizedName
from pipeline.core.order import LinePart
from pipeline.layout.block import Setting
from pipeline.layout.setter import LineText, Setter

Chosen = Sequence[tuple[LineText, Setting | None]]
"""The lines of one plaque and how each was set; None where it does not fit."""


def line_sizes(setter: Setter, plaques: Mapping[int, Chosen]) -> tuple[LineSizes, ...]:
    """The size table of every line of the order. plaques: by row of the list, how it was set.

    Only what was not set as designed is tried again under the other policies: what fits as it is designed fits so under
    all of them.
    """
    return tuple(_line(setter, number, part, plaques) for number, part in enumerate(setter.order.line, 1))


def _line(setter: Setter, number: int, part: LinePart, plaques: Mapping[int, Chosen]) -> LineSizes:
    others = {
        policy: setter.with_line(number, part.model_copy(update={"same_size": policy})) for policy in ("most", "each")
    }
    mine = next(group.lines for group in setter.groups if number in group.lines)
    tried: dict[tuple[str, tuple[tuple[int, str, str | None], ...]], float | None] = {}

    def size(policy: str, texts: Sequence[LineText]) -> float | None:
        key = policy, tuple((t.line, t.text, t.language) for t in texts)
        if key not in tried:
            found = next(t.setting for t in others[policy].set(texts) if t.text.line == number)
            tried[key] = found.cap_height if found else None
        return tried[key]

    names = []
    for row, chosen in plaques.items():
        texts = [text for text, _ in chosen if text.line in mine]
        for text, setting in chosen:
            if text.line != number:
                continue
            own = setting.cap_height if setting else None
            designed = Setting(cap_height=part.cap_height, tracking=part.tracking, rows=(text.text,))
            known = tuple(others) if setting == designed else (part.same_size,)
            sizes = {policy: own if policy in known else size(policy, texts) for policy in others}
            names.append(SizedName(row=row, text=text.text, most=sizes["most"], each=sizes["each"]))
    return LineSizes(line=number, same_size=part.same_size, designed=part.cap_height, names=tuple(names))
