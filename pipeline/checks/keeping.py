"""What is measured of shapes, and how it is kept: in the process, and by a keeper in files of their own for each face
between runs.

A value is read from the disk when it is first asked for, and only what is new is put there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np

from pipeline.checks.atoms import Who
from pipeline.core.form import Maybe, of_form
from pipeline.core.kept import Keeper, Kept
from pipeline.geometry.narrowest import KINDS, Candidates, Narrow
from pipeline.geometry.places import Places

T = TypeVar("T")
Distance = tuple[float, float, float, float, float]
"""Of two shapes: distance, then both ends of the shortest way."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What is known of one shape, in its font units. `who`: which of the shape's glyphs each place belongs to.

    stroke: the narrowest. widest: the widest place. land: the narrowest inside the shape, None when nothing is near.
    """

    stroke: Narrow | None = None
    stroke_who: Who = ()
    widest: Narrow | None = None
    widest_who: Who = ()
    land: Narrow | None = None
    land_who: Who = ()


NOTHING = Measured()


@dataclass(frozen=True, slots=True)
class Joint:
    """What is known of united glyphs inside the zone of a pair of them, in the first glyph's units: narrowest stroke,
    narrow places of land, widest place."""

    stroke: Narrow | None
    lands: tuple[Narrow, ...]
    widest: Narrow | None


class Memory(Generic[T]):
    """Values of one kind by key. Keys begin with the key of a shape; its part before the colon names the face."""

    def __init__(
        self,
        keeper: Keeper | None,
        space: str,
        plain: Callable[[T], Any],
        read: Callable[[Any], T],
        file: str = "measures",
    ) -> None:
        """keeper: where values are kept between runs; without one they last as long as this object. plain: a value as
        what JSON can hold; read: the way back, exactly; ValueError when it is of another form."""
        self._keeper, self._space, self._plain, self._read, self._name = keeper, space, plain, read, file
        self._known: dict[str, T] = {}

    def get(self, key: str) -> T | None:
        """The value, or None when it is not known."""
        known = self._known.get(key)
        if known is None and self._keeper is not None:
            known = self._file(self._keeper, key).get(self._space, key, self._read)
            if known is not None:
                self._known[key] = known
        return known

    def put(self, key: str, value: T) -> T:
        """Remember a value; it reaches the disk when the keeper saves."""
        self._known[key] = value
        if self._keeper is not None:
            self._file(self._keeper, key).put(self._space, key, self._plain(value))
        return value

    def _file(self, keeper: Keeper, key: str) -> Kept:
        return keeper.open(f"{self._name}-{key.partition(':')[0]}")


def shapes(keeper: Keeper | None) -> Memory[Measured]:
    """Of shapes, by their key."""
    return Memory(keeper, "shape", _plain_measured, _measured)


def narrow_places(keeper: Keeper | None) -> Memory[Places]:
    """Of glyphs of joining faces, by their key: there every word is put together from its letters."""
    return Memory(keeper, "places", _plain_places, _places, "letters")


def joints(keeper: Keeper | None) -> Memory[Joint]:
    """Of united glyphs, by their keys and places."""
    return Memory(keeper, "joint", _plain_joint, _joint)


def distances(keeper: Keeper | None) -> Memory[Distance]:
    """Of two shapes, by their keys and places."""
    return Memory(keeper, "distance", list, _distance)


_NARROW = (float, str, float, float)
_PLACE = (Maybe(_NARROW), [int])


def _plain(p: Narrow | None) -> list[Any] | None:
    return None if p is None else [p.width, p.kind, p.x, p.y]


def _narrow(p: Sequence[Any] | None) -> Narrow | None:
    return None if p is None else Narrow(*p)


def _plain_measured(m: Measured) -> list[Any]:
    places = (m.stroke, m.stroke_who), (m.widest, m.widest_who), (m.land, m.land_who)
    return [[_plain(place), list(who)] for place, who in places]


def _measured(plain: Any) -> Measured:
    (stroke, stroke_who), (widest, widest_who), (land, land_who) = of_form(plain, (_PLACE, _PLACE, _PLACE))
    return Measured(
        _narrow(stroke), tuple(stroke_who), _narrow(widest), tuple(widest_who), _narrow(land), tuple(land_who)
    )


def _plain_places(p: Places) -> list[Any]:
    c = p.strokes
    return [[c.width.tolist(), c.kind.tolist(), c.at.ravel().tolist()], [_plain(land) for land in p.lands]]


def _places(plain: Any) -> Places:
    (width, kind, at), lands = of_form(plain, (([float], [int], [float]), [_NARROW]))
    if not 2 * len(width) == 2 * len(kind) == len(at) or not set(kind) <= set(range(len(KINDS))):
        raise ValueError("not a place and a kind for every width")
    at_each = np.array(at, dtype=float).reshape(-1, 2)
    return Places(Candidates(np.array(width, dtype=float), np.array(kind, dtype=np.intp), at_each), _lands(lands))


def _lands(plain: Any) -> tuple[Narrow, ...]:
    return tuple(Narrow(*p) for p in plain)


def _plain_joint(j: Joint) -> list[Any]:
    return [_plain(j.stroke), [_plain(p) for p in j.lands], _plain(j.widest)]


def _joint(plain: Any) -> Joint:
    stroke, lands, widest = of_form(plain, (Maybe(_NARROW), [_NARROW], Maybe(_NARROW)))
    return Joint(_narrow(stroke), _lands(lands), _narrow(widest))


def _distance(plain: Any) -> Distance:
    value, x0, y0, x1, y1 = of_form(plain, (float,) * 5)
    return value, x0, y0, x1, y1
