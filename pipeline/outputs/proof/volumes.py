"""A great proof is several files, each complete in itself: which design stands in which of them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

SINGLE = "proof.pdf"
"""The proof of an order that one file holds."""
_NAMES = re.compile(r"proof(?:-\d+)?\.pdf")


@dataclass(frozen=True, slots=True)
class Volume:
    """One file of a proof. number 0: the only one."""

    number: int = 0
    count: int = 1

    @property
    def file(self) -> str:
        return f"proof-{self.number}.pdf" if self.number else SINGLE


def assign_volumes(
    designs: Sequence[str],
    most: int,
    earlier: Mapping[str, int] | None = None,
    replaces: Mapping[str, str] | None = None,
) -> dict[str, int]:
    """The volume, counted from 1, of each design by fingerprint, in the order given.

    most: designs a volume takes. earlier: where designs stood in earlier revisions; they stay there, whatever has gone
    from beside them. replaces: the design that stood in this one's place before; it hands its volume on. All others go
    to the end, in the order of the list.
    """
    known, before = earlier or {}, replaces or {}
    found: dict[str, int] = {}
    for mark in designs:
        was = known.get(mark) or known.get(before.get(mark, ""))
        if was:
            found[mark] = was
    taken = Counter(found.values())
    last = max(taken, default=1)
    for mark in designs:
        if mark not in found:
            if taken[last] >= most:
                last += 1
            found[mark] = last
            taken[last] += 1
    return {mark: found[mark] for mark in designs}


def build_volumes(assigned: Iterable[int]) -> tuple[Volume, ...]:
    """The files these numbers of volumes make."""
    count = max(assigned, default=1)
    return (Volume(),) if count == 1 else tuple(Volume(number, count) for number in range(1, count + 1))


def is_proof(name: str) -> bool:
    """Return whether a file of this name is one that a run writes as a proof or a volume of one."""
    return bool(_NAMES.fullmatch(name))
