"""Reads one list without an order folder."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.config.order import ListConfig
from pipeline.core.model import RecipientList
from pipeline.intake.recipients.joined_lists import join_lists
from pipeline.intake.recipients.read_list import read_rows
from pipeline.intake.spreadsheet.sheet import Sheet


def read_one_list(sheet: Sheet, part: ListConfig, lettered: Sequence[str]) -> RecipientList:
    """Read the recipients of a sheet as the only list of an order. lettered: keys that the order's lines name."""
    return join_lists(read_rows(sheet, part, lettered), (), part.settled)
