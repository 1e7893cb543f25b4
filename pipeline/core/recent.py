"""A bounded memory of what was made lately.

What is the same on every plaque (fixed lines, letters) is always lately used and stays; what one plaque alone has is
soon forgotten, so that memory does not grow with the list. Rows and lines that say the same in the same place are the
same object throughout an order: they are remembered by identity, which costs nothing to compare.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar, cast

V = TypeVar("V")

_NOTHING = object()


class Recent(Generic[V]):
    """Keeps the `most` values used last (0: none). Holds its keys, so that an object's identity stays its own."""

    def __init__(self, most: int = 512) -> None:
        self.most = most
        self._known: dict[Hashable, V] = {}

    def of(self, key: Hashable, make: Callable[[], V]) -> V:
        """The value of a key, made when it is not remembered."""
        value = self._known.pop(key, _NOTHING)
        if value is _NOTHING:
            value = make()
            if self.most and len(self._known) >= self.most:
                del self._known[next(iter(self._known))]
        if self.most:
            self._known[key] = cast("V", value)
        return cast("V", value)
