"""A bounded memory of what was made lately.

What is the same on every plaque (fixed lines, letters) is always lately used and stays; what one plaque alone has is
soon forgotten, so that memory does not grow with the list. Rows and lines that say the same in the same place are the
same object throughout an order: they are remembered by identity, which costs nothing to compare.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from typing import Any, Generic, TypeVar

V = TypeVar("V")

_NOTHING: Any = object()


class LruCache(Generic[V]):
    """Keeps the `most` values used last (0: none). Holds its keys, so that an object's identity stays its own."""

    def __init__(self, most: int = 512) -> None:
        self.most = most
        self._known: OrderedDict[Hashable, Any] = OrderedDict()

    def get_or_compute(self, key: Hashable, make: Callable[[], V]) -> V:
        """The value of a key, made when it is not remembered."""
        known = self._known
        value: V = known.get(key, _NOTHING)
        if value is not _NOTHING:
            known.move_to_end(key)
            return value
        value = make()
        if len(known) >= self.most:
            if not self.most:
                return value
            known.popitem(last=False)
        known[key] = value
        return value

    def get_or_compute_many(self, keys: Sequence[Hashable], make: Callable[[list[Any]], Sequence[V]]) -> list[V]:
        """The values of many keys; those that are not remembered are made together, each once, in their order."""
        known = self._known
        found = [known.get(key, _NOTHING) for key in keys]
        for key, value in zip(keys, found, strict=True):
            if value is not _NOTHING:
                known.move_to_end(key)
        new = list(dict.fromkeys(key for key, value in zip(keys, found, strict=True) if value is _NOTHING))
        if not new:
            return found
        made = dict(zip(new, make(new), strict=True))
        if self.most:
            known.update(made)
            while len(known) > self.most:
                known.popitem(last=False)
        return [made[key] if value is _NOTHING else value for key, value in zip(keys, found, strict=True)]
