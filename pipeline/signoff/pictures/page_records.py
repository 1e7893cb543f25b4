"""Plain records of what was read in a picture of a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BoxState = Literal["off", "on", "written", "unclear"]
Pen = Literal["", "shown", "broken", "unseen"]
"""What a page without greys tells of the pen: its ticks are solid, or even pale print shows, so that other marks are
seen too; or a mark is broken, so that others may be lost; or nothing tells. Empty: not known, or not asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBox:
    """One box of the form. option: of one that belongs to several, which it stands for. why: for `unclear`. picture:
    what is written in it, or what is unclear, as PNG."""

    field: str
    option: str
    kind: Literal["tick", "write"]
    state: BoxState
    why: str = ""
    picture: bytes = b""
    others: tuple[bytes, ...] = ()  # the same writing in the page's other pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPage:
    """What one picture shows. number: of the picture in its file. page 0: none was read, and `why` says why not.
    revision, volume: of the proof that its mark names, as far as it could be read."""

    number: int
    revision: str = ""
    volume: int = 0
    page: int = 0
    why: str = ""
    boxes: tuple[ReadBox, ...] = ()
    remarks: tuple[bytes, ...] = ()  # writing outside all boxes, as PNG
    hidden: str = ""  # why something on the page can't be seen; empty when all of it can
    pen: Pen = ""  # where it is unseen, `hidden` holds unless another page of the same answer shows it
    blank: bool = False  # an empty back
    whole: bytes = b""  # the whole page, if part of it can't be seen
    signed: bytes = b""  # the signature line, which only the maker reads
