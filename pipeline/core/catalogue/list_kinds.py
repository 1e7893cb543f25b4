"""Kinds of finding: list.*, what the client's sheet has where a recipient belongs."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Edit, Kind, Severity

MOST_COPIES = 500
"""More than this of one plaque is asked about: a slip of the finger more often than an order. Common practice, no
source."""

_HIDDEN = tuple((Edit(table="list", key="hidden", value=value),) for value in ("use", "leave-out"))

NAME_MISSING = Kind(
    code="list.name-missing",
    severity=Severity.STOP,
    message="row {row} has {present} but no name in {cell}",
    why="Somebody expects a plaque from a row that is partly filled in; without its name it would be cut blank, or "
    "not at all.",
    remedy="ask the client for the name, or take the row out of the list if it is not wanted",
    addressed="client",
    client="Row {row} has {present}, but no name. Whose {one} is it, or is the row not wanted?",
    source="the list itself: other columns of the row are filled",
)
NAME_INCOMPLETE = Kind(
    code="list.name-incomplete",
    severity=Severity.ASK,
    message="row {row} “{text}” has nothing in {cell}, where others have a part of the name",
    why="A first or family name left blank is easily overlooked: the other half looks whole on the plaque.",
    remedy="ask the client for the whole name",
    addressed="client",
    client="Row {row} of your list has only “{text}”: {cell} is empty. Is that the whole name?",
    source="columns of first and family names that half of the list or more fills; common practice, no source",
)
ROW_HIDDEN = Kind(
    code="list.row-hidden",
    severity=Severity.ASK,
    message="row {row} “{text}” is hidden in the sheet",
    why="Rows are hidden to leave somebody out, or just to see the others; the sheet doesn't say which.",
    remedy='ask the client, then write hidden = "use" or hidden = "leave-out" into [list]',
    addressed="client",
    edits=_HIDDEN,
    client="Row {row}, “{text}”, is hidden in your list. Is this {one} wanted?",
    source="the sheet's own mark",
)
FILTERED = Kind(
    code="list.filtered",
    severity=Severity.ASK,
    message="the sheet is filtered: {count:row is|rows are} hidden by it ({rows}); {count:=it is|they are} taken, each "
    "with a question",
    why="A filter may have been forgotten, or it may be how the client chose the part to be made.",
    remedy='ask the client which rows are meant, then write hidden = "use" or hidden = "leave-out" into [list]',
    addressed="client",
    edits=_HIDDEN,
    client="Your list has a filter set that hides {count:row|rows} ({rows}). {count:=Is it|Are they} wanted as well?",
    source="the sheet's own filter",
)
ROW_FILTERED = Kind(
    code="list.row-filtered",
    severity=Severity.ASK,
    message="row {row} “{text}” is hidden by the sheet's filter",
    why="The filter may leave it out on purpose, or may just have been left on.",
    remedy='ask the client once for all such rows, then write hidden = "use" or hidden = "leave-out" into [list]',
    addressed="client",
    edits=_HIDDEN,
    client="Row {row}, “{text}”, is hidden by the filter set in your list. Is this {one} wanted?",
    source="the sheet's own filter",
)
SAYS_NO = Kind(
    code="list.says-no",
    severity=Severity.ASK,
    message="row {row} “{text}” has “{said}” under “{heading}”",
    why="A column that says who gets a plaque is the client's own way of leaving somebody out.",
    remedy="ask the client; take the row out of a copy of the list if it is no plaque",
    addressed="client",
    client="Your list says “{said}” under “{heading}” for “{text}” (row {row}). Is this {one} wanted?",
    source="headings and answers in common use; common practice, no source",
)
SAYS_NOTHING = Kind(
    code="list.says-nothing",
    severity=Severity.ASK,
    message="row {row} “{text}” has nothing under “{heading}”, where others say yes",
    why="A blank may mean no, or that nobody has decided yet.",
    remedy="ask the client; take the row out of a copy of the list if it is no plaque",
    addressed="client",
    client="Your list has nothing under “{heading}” for “{text}” (row {row}). Is this {one} wanted?",
    source="headings and answers in common use; common practice, no source",
)
ROW_STRUCK = Kind(
    code="list.row-struck",
    severity=Severity.ASK,
    message="{cell} “{text}” is struck through",
    why="Many people delete a name by striking it through.",
    remedy='ask the client, then write struck = "use" or struck = "leave-out" into [list]',
    addressed="client",
    edits=tuple((Edit(table="list", key="struck", value=value),) for value in ("use", "leave-out")),
    client="“{text}” in row {row} is struck through in your list. Is this {one} wanted?",
    source="the sheet's own mark",
)
CELL_ERROR = Kind(
    code="list.cell-error",
    severity=Severity.STOP,
    message="{cell} holds the error {error}, not {wanted}",
    why="The text that belongs here is lost in the client's own sheet; cut as it stands it would read {error}.",
    remedy="ask the client to correct {cell} and to send the list again",
    addressed="client",
    client="Cell {cell} of your list shows {error}. What should stand there?",
    source="the cell's own type",
)
NO_RESULT = Kind(
    code="list.no-result",
    severity=Severity.STOP,
    message="{cell} holds a formula whose result was not saved: {formula}",
    why="Formulas are never evaluated here: the client can only agree to what their own program showed.",
    remedy="open the list in a spreadsheet program, save it, and run again",
    addressed="maker",
    client="Cell {cell} of your list holds a formula without its result. What should stand there?",
    source="the cell has a formula and no stored value",
)
NOT_TEXT = Kind(
    code="list.not-text",
    severity=Severity.ASK,
    message="{cell} holds {found}, not text; it will be cut as the sheet shows it: “{text}”",
    why="Spreadsheet programs turn whatever looks like a number or a date into one, and show it in their own way.",
    remedy="ask the client how it should read; format the cell as text and type it in",
    addressed="client",
    ways=(ways.DATES,),
    client="Cell {cell} of your list holds {found}. Should it read “{text}”?",
    source="the cell's own type",
)
AS_SHOWN = Kind(
    code="list.as-shown",
    severity=Severity.NOTE,
    message="{cell} holds the number {value}; it will be cut as the sheet shows it: “{text}”",
    why="A number has a value and a display format; what is cut is what the client saw.",
    remedy="nothing, if it looks right on the proof",
    addressed="nobody",
    source="the cell's number format",
)
REPEATED = Kind(
    code="list.repeated",
    severity=Severity.ASK,
    message="rows {rows} read alike, “{text}”",
    why="Naming a person twice is a common slip when lists are merged, and costs a piece of stock once it is cut.",
    remedy="ask the client whether it is one plaque or several; for several pieces alike use the copies column",
    addressed="client",
    client="Rows {rows} of your list read alike: “{text}”. Is that one {one}, or {count}?",
    source="everything that is lettered, compared without regard to capitals and spaces",
)
LOOK_ALIKE = Kind(
    code="list.look-alike",
    severity=Severity.ASK,
    message="“{text}” in row {row} is very like “{other}” in row {other_row}: {how}",
    why="One person spelled in two ways means a plaque too many, or a name misspelled.",
    remedy="ask the client whether they are two people, and which spelling is right",
    addressed="client",
    client="“{text}” (row {row}) and “{other}” (row {other_row}) are very alike. Are these two people, and is each "
    "spelling right?",
    source="one letter apart, alike in sound, or alike to the eye (Unicode UTS #39), the rest of the name being equal",
)
COPIES_UNCLEAR = Kind(
    code="list.copies-unclear",
    severity=Severity.ASK,
    message="{cell} {found} where a number of copies belongs; {copies} counted",
    why="Too few pieces mean a second set-up, too many mean wasted stock.",
    remedy="ask the client how many, and write a whole number into {cell}",
    addressed="client",
    client="How many {many} are wanted for “{text}” (row {row})? The cell in your list {found}.",
    source=f"the copies column; a whole number from 1 to {MOST_COPIES} is taken as it is",
)
NO_COPIES = Kind(
    code="list.no-copies",
    severity=Severity.ASK,
    message="row {row} “{text}” asks for no copies and is left out",
    why="Zero may mean that the plaque isn't wanted, or that the column was never filled in.",
    remedy="ask the client",
    addressed="client",
    client="Row {row}, “{text}”, asks for no {one}, so none is planned. Is that right?",
    source="the copies column",
)
TOTAL_DIFFERS = Kind(
    code="list.total-differs",
    severity=Severity.ASK,
    message="{cell} states a total of {stated}, but the rows add up to {counted}",
    why="A wrong total often means that a row was lost, or added after the list was counted.",
    remedy="ask the client which is right",
    addressed="client",
    client="Your list states a total of {stated}, but its rows add up to {counted}. Which is right?",
    source="the totals row of the list",
)
LEFT_OUT = Kind(
    code="list.left-out",
    severity=Severity.NOTE,
    message="row {row} is left out, it is {reason}: “{text}”",
    why="Lists contain titles, totals and notes that aren't plaques; each row left out is recorded.",
    remedy="nothing, unless it is a recipient after all",
    addressed="nobody",
    source="where the row stands and what it says",
)
REMARK_BESIDE = Kind(
    code="list.remark-beside",
    severity=Severity.ASK,
    message="row {row} ({reason}), perhaps for you: “{text}”",
    why="How many of each, how to spell them, by when: such notes are often written above, below or beside a list.",
    remedy="read it, and settle with the client what it means for the order; `settled` in [list] records that",
    addressed="maker",
    source="headings and words in common use for what is wanted; common practice, no source",
)
COLUMN_UNUSED = Kind(
    code="list.column-unused",
    severity=Severity.NOTE,
    message="{count:column of the list is|columns of the list are} not used: {columns}",
    why="What stands in a column that no line letters is neither cut nor shown to anybody; the column may have been "
    "meant.",
    remedy="nothing, if it isn't wanted; name the column in [list] columns and in a line if it is",
    addressed="nobody",
    source="headings with something below them that neither the order nor the tool looks at",
)
DATE_AS_TYPED = Kind(
    code="list.date-as-typed",
    severity=Severity.ASK,
    message="“{key}” has {dates:date|dates} that {dates:=is|are} set as [list] dates says, and {count:text|texts} that "
    "{count:=stays|stay} as typed: {cells}",
    why="Dates in two styles on one wall look like a slip; a date typed as text can't be recognised for certain.",
    remedy="look at these on the proof; type them as dates in a copy of the list if they should be like the others",
    addressed="maker",
    source="the cells' own types, and 2026-05-02 as ISO 8601 has it",
)
DATE_SET = Kind(
    code="list.date-set",
    severity=Severity.NOTE,
    message="{cell} holds the date {found}; it is set as “{text}” ({pattern})",
    why="A date can be written in many ways: the order says in which one it is set.",
    remedy="nothing, if it looks right on the proof",
    addressed="nobody",
    source="`dates` in [list]; words and order by Unicode's tables (CLDR)",
)
SENDER = Kind(
    code="list.sender-left-out",
    severity=Severity.ASK,
    message="row {row} “{text}” is left out as the sender's name: it stands below the closing of the letter",
    why="A letter ends with its writer's name, which isn't a plaque; but a late addition to the list may be there too.",
    remedy="ask the client if in doubt; move the line up in a copy of the list if it is a plaque",
    addressed="client",
    client="“{text}” stands at the end of your letter (row {row}). We took it for your name and not for a {one}. "
    "Is that right?",
    source="where the line stands; common practice, no source",
)
LEFT_OUT_NAMED = Kind(
    code="list.left-out-names-somebody",
    severity=Severity.ASK,
    message="row {row} is left out, it is {reason}, but may name somebody who should get a plaque: “{text}”",
    why="Names in a sentence, or where a title should be, are easily missed.",
    remedy="if they are wanted, put each name on its own line in a copy of the list",
    addressed="maker",
    client="Your list says: “{text}” (row {row}). Does it name somebody who should get a {one}?",
    source="two words with capitals side by side; common practice, no source",
)
TAKEN_OFF = Kind(
    code="list.taken-off",
    severity=Severity.NOTE,
    message="{cell}: {taken} taken off the name, which now reads “{text}”{copies}",
    why="Pasted lists have bullets, quotation marks and numbers of pieces beside the names.",
    remedy="nothing, if the name and the number of pieces are right on the proof",
    addressed="nobody",
    source="marks in common use; common practice, no source",
)
GUESSED = Kind(
    code="list.guessed",
    severity=Severity.ASK,
    message="where the names are is a guess that nobody has checked: {guess}",
    why="A guess that is off by a row or a column loses a recipient, and nothing else shows it.",
    remedy="look at the list; correct sheet, header and columns in [list] if they are wrong, then delete `guessed`",
    addressed="maker",
    source="`guessed` in [list], which `plaques start` writes where it is not sure",
)
NO_RECIPIENTS = Kind(
    code="list.no-recipients",
    severity=Severity.ASK,
    message="{file} holds no recipient: none of its rows below the header is one",
    why="A list is seldom meant to be without a name: this may be another sheet, or the wrong file.",
    remedy="look at the file; `sheet`, `area`, `header`, `hidden` and `struck` of [list] say which part of it is read",
    addressed="maker",
    source="the rows of the list as they are accounted for in check.xlsx",
)
BLANK_ROWS = Kind(
    code="list.blank-rows",
    severity=Severity.NOTE,
    message="blank rows between recipients: {rows}",
    why="A gap in a list is harmless, but something may have been deleted there.",
    remedy="nothing",
    addressed="nobody",
    source="rows without any content",
)
PERHAPS_NOT_A_NAME = Kind(
    code="list.perhaps-not-a-name",
    severity=Severity.ASK,
    message="{cell} “{text}” may be {what}, not a recipient",
    why="A note cut on a plaque wastes a piece; a recipient taken for a note gets none.",
    remedy="ask the client; take the row out of the list if it is no plaque",
    addressed="client",
    client="Row {row} reads “{text}”. Is that a {one}, or a remark?",
    source="the rest of the row is empty where other rows are filled, and its wording",
)
HEADER_UNSURE = Kind(
    code="list.header-unsure",
    severity=Severity.ASK,
    message="row {row} was taken for the header, so it gets no plaque: “{text}”; {why}",
    why="A heading cut on a plaque wastes a piece; a recipient taken for a heading gets none.",
    remedy="",
    ways=(ways.HEADER_IS, ways.HEADER_NONE),
    client="We took row {row} of your list, “{text}”, for the heading of its columns. Is that right?",
    source="the words of the row, and its shape against the rows below it",
)
ABOVE_HEADER = Kind(
    code="list.above-header",
    severity=Severity.ASK,
    message="row {row} “{text}” stands above the header and is left out, but reads like a recipient",
    why="Names added above the headings of a list are easily missed.",
    remedy="move the row below the header in a copy of the list if it is a plaque",
    addressed="maker",
    client="Row {row} of your list, “{text}”, stands above the headings. Is it a {one}?",
    source="the row is filled like the rows below the header",
)
BESIDE = Kind(
    code="list.beside",
    severity=Severity.ASK,
    message="another list beside this one is not read: {area}, headed “{text}”, with {count:name|names}",
    why="Half of an order is easily overlooked at the side of a sheet.",
    remedy="if it is wanted, make an order of its own: `plaques start LIST --area {area} --in FOLDER`; "
    "`area` in [list] says that this list alone is meant",
    addressed="maker",
    client="Your sheet has a second list beside the first, headed “{text}”, with {count:name|names}. Are these {many} "
    "too?",
    source="headings with names below them, in columns that the order does not use",
)
NAMES_UNUSED = Kind(
    code="list.names-unused",
    severity=Severity.ASK,
    message="there are names in other columns too, which are not used: {columns} with {names} …",
    why="Names in several columns are easily read as one list.",
    remedy="if they are wanted, copy them below one another, or make an order of its own with `area` in [list]; if "
    "they belong on the same plaques, name the column in [list] columns and in a line",
    addressed="maker",
    client="Your list has names in further columns ({columns}): {names} … Are these {many} too?",
    source="the words of its cells; it has no heading, or one that doesn't say what they are; own rule",
)
SECOND_HEADER = Kind(
    code="list.second-header",
    severity=Severity.ASK,
    message="row {row} is a second header, “{text}”; from there on: {columns}",
    why="A second list below the first may have other columns, or be another job.",
    remedy="look at a plaque from below that row; `area` in [list] reads one of the lists alone",
    addressed="maker",
    client="Row {row} of your list, “{text}”, begins a second list. Do both belong to this order?",
    source="the row's words are those of headings",
)
OUTSIDE_AREA = Kind(
    code="list.outside-area",
    severity=Severity.NOTE,
    message="outside the area {area} {count:row is|rows are} not read: {rows}",
    why="What an order leaves out is recorded with it.",
    remedy="nothing, if only this part of the sheet is meant; `area` in [list] says which",
    addressed="nobody",
    source="`area` in [list]",
)
MERGED = Kind(
    code="list.merged",
    severity=Severity.ASK,
    message="{area} is one merged cell, “{text}”: it was taken to hold for all of rows {rows}",
    why="A merged cell stores its text in its first row only; whether it is meant for all of them, only a person can "
    "tell.",
    remedy="look at these plaques on the proof, and ask the client if in doubt",
    addressed="client",
    client="“{text}” stands in one cell beside rows {rows} of your list. Does it belong on all of these {many}?",
    source="the sheet's own merged cells",
)
COMMENT = Kind(
    code="list.comment",
    severity=Severity.ASK,
    message="{cell} “{text}” carries a comment: “{comment}”",
    why="Comments often say what should be different, and don't show in print.",
    remedy="read it, and settle with the client what it means for this plaque",
    addressed="maker",
    client="A comment in your list says of “{text}”: “{comment}”. Is that settled?",
    source="the sheet's own comments",
)
TWO_WAYS = Kind(
    code="list.two-ways",
    severity=Severity.ASK,
    message="{count} of {total} names {how}: rows {rows}",
    why="On one wall, titles, ampersands and apostrophes should all follow one style.",
    remedy="ask the client once for the whole list; nothing is changed here",
    addressed="client",
    client="In your list {count} of {total} names {how} (rows {rows}). Is that meant, or should all be alike?",
    source="the names of the list compared with each other; common practice, no source",
)
SETTLED = Kind(
    code="list.settled",
    severity=Severity.NOTE,
    message="{code} was not asked for {rows}: {reason}",
    why="A question the client has answered needn't be asked again, but the answer is kept with the order.",
    remedy="nothing; delete it from `settled` in [list] to be asked again",
    addressed="nobody",
    source="`settled` in [list]",
)

KINDS: tuple[Kind, ...] = (
    NAME_MISSING,
    NAME_INCOMPLETE,
    ROW_HIDDEN,
    FILTERED,
    ROW_FILTERED,
    SAYS_NO,
    SAYS_NOTHING,
    ROW_STRUCK,
    CELL_ERROR,
    NO_RESULT,
    NOT_TEXT,
    AS_SHOWN,
    REPEATED,
    LOOK_ALIKE,
    COPIES_UNCLEAR,
    NO_COPIES,
    TOTAL_DIFFERS,
    LEFT_OUT,
    LEFT_OUT_NAMED,
    SENDER,
    TAKEN_OFF,
    GUESSED,
    NO_RECIPIENTS,
    REMARK_BESIDE,
    COLUMN_UNUSED,
    DATE_AS_TYPED,
    DATE_SET,
    BLANK_ROWS,
    PERHAPS_NOT_A_NAME,
    HEADER_UNSURE,
    ABOVE_HEADER,
    BESIDE,
    NAMES_UNUSED,
    SECOND_HEADER,
    OUTSIDE_AREA,
    MERGED,
    COMMENT,
    TWO_WAYS,
    SETTLED,
)
