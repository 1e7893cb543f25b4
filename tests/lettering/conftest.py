"""Typefaces of the shelf, opened once for all lettering tests."""

from collections.abc import Callable
from functools import cache

import pytest

from pipeline.lettering.font_face import Shelf, Typeface, open_face


@pytest.fixture(scope="session")
def shelf() -> Shelf:
    return Shelf()


@pytest.fixture(scope="session")
def face(shelf: Shelf) -> Callable[[str], Typeface]:
    """face("eb-garamond"): a shared typeface of the shelf."""

    @cache
    def opened(name: str) -> Typeface:
        return open_face(name, shelf=shelf)

    return opened
