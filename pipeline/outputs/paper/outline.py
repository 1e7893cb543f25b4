"""The bookmarks of a document (ISO 32000-1, 12.3.3), written as soon as what follows each of them is known."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.outputs.paper.document import Document, string


@dataclass(slots=True)
class _Item:
    number: int
    title: str = ""
    page: int = 0
    above: int = 0
    before: int = 0
    after: int = 0
    first: int = 0
    last: int = 0
    below: int = 0  # how many stand under it


class Outline:
    """Takes bookmarks in their order. Levels count from 0; one may lie at most one deeper than the one before."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._open: list[_Item] = []  # the root, then the last bookmark of each level down to the one added last

    def add(self, title: str, page: int, level: int = 0) -> None:
        """A bookmark of a whole page. page: the number of its object."""
        new = _Item(self._document.reserve(), title, page)
        if not self._open:
            self._open.append(_Item(self._document.reserve()))
        self._write(level + 2)
        above = self._open[level]
        if len(self._open) > level + 1:
            self._open[-1].after, new.before = new.number, self._open[-1].number
            self._write(level + 1)
        else:
            above.first = new.number
        above.last, new.above = new.number, above.number
        for item in self._open:
            item.below += 1
        self._open.append(new)

    def close(self) -> int:
        """Writes the rest; the number of the outline's dictionary, 0 without a bookmark."""
        root = self._open[0].number if self._open else 0
        self._write(0)
        return root

    def _write(self, keep: int) -> None:
        """Writes open ones until so many are left."""
        while len(self._open) > keep:
            item = self._open.pop()
            said = f"/Title{string(item.title)}/Dest[{item.page} 0 R/Fit]" if item.above else "/Type/Outlines"
            links = {"Parent": item.above, "Prev": item.before, "Next": item.after}
            links |= {"First": item.first, "Last": item.last}
            said += "".join(f"/{key} {number} 0 R" for key, number in links.items() if number)
            self._document.add(f"<<{said}{f'/Count {item.below}' if item.below else ''}>>", item.number)
