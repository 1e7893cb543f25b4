"""Kinds of finding: list.*, how the file and its sheet were read."""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

OTHER_SHEETS = Kind(
    code="list.other-sheets",
    severity=Severity.NOTE,
    message="the file has other sheets that were not read: {others}; this list is “{sheet}”",
    why="A second or newer list may be on another sheet.",
    remedy="nothing, if this is the right one; otherwise name it with `sheet` in [list]",
    addressed="nobody",
    source="the file's own list of sheets",
)
SHEETS_ALIKE = Kind(
    code="list.sheets-alike",
    severity=Severity.ASK,
    message="{count:other sheet|other sheets} of the file may hold names too: {others}; only “{sheet}” is read",
    why="An order is often spread over several sheets, one for each event or group.",
    remedy="if this one alone is meant, name it with `sheet` in [list]; for the names on another make an order of its "
    "own: `plaques start LIST --sheet NAME --in FOLDER`",
    addressed="maker",
    source="headings and names on the file's other visible sheets, the order's own headings on hidden ones",
)
COLUMN_HIDDEN = Kind(
    code="list.column-hidden",
    severity=Severity.NOTE,
    message="the sheet has hidden columns: {columns}",
    why="What a client hid may be out of date or private.",
    remedy="nothing, unless a column marked as used should not be",
    addressed="nobody",
    source="the sheet's own mark",
)
MARKS_UNSEEN = Kind(
    code="list.marks-unseen",
    severity=Severity.NOTE,
    message="the list was read by its values alone ({reader}); not looked at: {unread}",
    why="What a client struck through, commented on or hid may matter as much as the names.",
    remedy="save it as .xlsx (a large one in parts), or look through the list yourself",
    addressed="maker",
    source="the file's format, or its size",
)
TEXT_READ = Kind(
    code="list.text-read",
    severity=Severity.NOTE,
    message="a text file: encoding {encoding}, {columns}",
    why="A text file doesn't say how to read it; the wrong way garbles names.",
    remedy="nothing, if the names look right; `encoding` and `separator` in [list] set them",
    addressed="nobody",
    source="the file's bytes",
)
NUMBERS_APART = Kind(
    code="list.numbers-apart",
    severity=Severity.NOTE,
    message="numbers or bullets in front of the names were taken off: they are in column A, the names in column B",
    why="The numbers of a list aren't part of the names.",
    remedy="nothing, if the names look right",
    addressed="nobody",
    source="numbers that run on by ones in front of the names",
)
ENCODING_UNSURE = Kind(
    code="list.encoding-unsure",
    severity=Severity.ASK,
    message="the file's encoding was guessed as {encoding}, it could be {rivals}; this decides {words} ({count})",
    why="In the wrong encoding, letters turn into other letters, and nothing else shows it.",
    remedy="compare these words with the client's own spelling, then set `encoding` in [list]",
    addressed="maker",
    client="Your list came as a text file without saying how its letters are stored. Are these spelled right: {words}?",
    source="letters where letters stand in names, by encoding; own rule",
)
QUOTES_UNBALANCED = Kind(
    code="list.quotes-unbalanced",
    severity=Severity.ASK,
    message="a quotation mark in line {line} of the file is never closed; quotation marks were read as letters",
    why="An open quotation mark turns all the rows after it into one field, and they would all be lost.",
    remedy="look at that line, and have the file saved again by the program it comes from",
    addressed="maker",
    client="Line {at} of your list has a quotation mark without its partner. Is that row right as shown?",
    source="RFC 4180",
)

KINDS: tuple[Kind, ...] = (
    OTHER_SHEETS,
    SHEETS_ALIKE,
    COLUMN_HIDDEN,
    MARKS_UNSEEN,
    TEXT_READ,
    NUMBERS_APART,
    ENCODING_UNSURE,
    QUOTES_UNBALANCED,
)
