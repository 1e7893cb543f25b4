"""Kinds of finding: text.*, the questions an experienced engraver asks of a name before cutting it.

None of them changes anything. Each has an off switch: `settled` in [list].
"""

from __future__ import annotations

from pipeline.core.findings import Kind, Severity

_COMMON = "common practice, no source"

PLACEHOLDER = Kind(
    code="text.placeholder",
    severity=Severity.ASK,
    message="{cell} “{text}” may stand for a text that is still to come, or for none",
    why="Placeholders are forgotten more often than names, and get cut all the same.",
    remedy="ask the client what belongs there",
    addressed="client",
    client="Row {row} of your list says “{text}”. What should stand there?",
    source=f"words in common use; {_COMMON}",
)
REMARK_INSIDE = Kind(
    code="text.remark-inside",
    severity=Severity.ASK,
    message="{cell} “{text}” seems to carry a remark: {remark}",
    why="A remark beside a name is meant for the engraver, not for the plaque.",
    remedy="ask the client, and take the remark out of the list",
    addressed="client",
    client="Row {row} reads “{text}”. Is {remark} to be cut as well?",
    source=f"words in brackets or after a dash, question marks, asterisks; {_COMMON}",
)
SEVERAL_NAMES = Kind(
    code="text.several-names",
    severity=Severity.ASK,
    message="{cell} “{text}” seems to hold {count} names",
    why="Several names in one cell may be one plaque or several.",
    remedy="ask the client; give each plaque a row of its own",
    addressed="client",
    client="Row {row} reads “{text}”. Is that one {one} with all the names, or {count} {many}?",
    source=f"line breaks, numbers, commas, semicolons or strokes between names; {_COMMON}",
)
SURNAME_FIRST = Kind(
    code="text.surname-first",
    severity=Severity.ASK,
    message="{cell} “{text}” seems to have the family name first",
    why="Registers write “Skua, Ada”; plaques hardly ever do.",
    remedy="ask the client; the name is cut as it stands",
    addressed="client",
    client="Should “{text}” be cut with the family name first, as it stands?",
    source=f"two parts with a comma between them; {_COMMON}",
)
DOUBLED_WORD = Kind(
    code="text.doubled-word",
    severity=Severity.ASK,
    message="{cell} “{text}” has “{word}” twice in a row",
    why="Everybody who knows what a text should say overlooks a word typed twice.",
    remedy="ask the client",
    addressed="client",
    client="“{text}” has “{word}” twice. Is that meant?",
    source=_COMMON,
)
SPACE_ODD = Kind(
    code="text.space-odd",
    severity=Severity.ASK,
    message="{cell} “{text}” has {what}",
    why="A missing or stray space shows far more in cut letters than on a screen.",
    remedy="ask the client; nothing is changed here",
    addressed="client",
    client="“{text}” has {what}. Should it be cut like that?",
    source=_COMMON,
)
STRAY_MARK = Kind(
    code="text.stray-mark",
    severity=Severity.ASK,
    message="{cell} “{text}” has {what}",
    why="Marks left over from lists and quotations are cut like letters.",
    remedy="ask the client; nothing is changed here",
    addressed="client",
    client="“{text}” has {what}. Should it be cut like that?",
    source=_COMMON,
)
STRAY_DIGIT = Kind(
    code="text.stray-digit",
    severity=Severity.ASK,
    message="{cell} “{text}” has {what}",
    why="A zero for an O, or a list's own number, isn't part of a name.",
    remedy="ask the client; nothing is changed here",
    addressed="client",
    client="“{text}” has {what}. Should it be cut like that?",
    source=_COMMON,
)
SYMBOL = Kind(
    code="text.symbol",
    severity=Severity.ASK,
    message="{cell} “{text}” holds {characters}, which is a picture, not a letter",
    why="Few typefaces have such signs, and each draws them differently.",
    remedy="ask the client whether it belongs to the name, or for a drawing of it",
    addressed="client",
    client="“{text}” holds {characters}. Does it belong to the name?",
    source="Unicode general category So, and emoji",
)
UNBALANCED = Kind(
    code="text.unbalanced",
    severity=Severity.ASK,
    message="{cell} “{text}” has {what} without its partner",
    why="Half a pair of brackets or quotation marks means that something is missing.",
    remedy="ask the client",
    addressed="client",
    client="“{text}” has {what} without its partner. How should it read?",
    source=_COMMON,
)
NAME_FORM = Kind(
    code="text.name-form",
    severity=Severity.ASK,
    message="{cell} “{text}”: “{found}” is more often written “{usual}”",
    why="Spreadsheets that capitalise automatically get such names wrong, and their owners notice at once.",
    remedy="ask the client; nothing is changed here",
    addressed="client",
    client="Is it “{found}” in “{text}”, or “{usual}”?",
    source=f"Irish and Scottish names with Mc and O’; {_COMMON}",
)
TITLE_ODD = Kind(
    code="text.title-odd",
    severity=Severity.ASK,
    message="{cell} “{text}” {how}",
    why="On one wall, everybody or nobody has a title, and all are written in one style.",
    remedy="ask the client whether titles are wanted, and which",
    addressed="client",
    client="“{text}” {how}. Should it be cut like that?",
    source=f"the other names of the same list; {_COMMON}",
)
AMPERSAND_ODD = Kind(
    code="text.ampersand-odd",
    severity=Severity.ASK,
    message="{cell} “{text}” has “{found}” where others in the list have “{usual}”",
    why="Couples on one wall should all be joined in the same way.",
    remedy="ask the client which is wanted throughout",
    addressed="client",
    client="“{text}” has “{found}” where others in your list have “{usual}”. Which should it be?",
    source=f"the other names of the same list; {_COMMON}",
)
APOSTROPHE_ODD = Kind(
    code="text.apostrophe-odd",
    severity=Severity.ASK,
    message="{cell} “{text}” has {found} where most of the list has {usual}",
    why="Straight and curled apostrophes side by side look like the engraver's mistake.",
    remedy="ask the client which is wanted throughout; `tidy_quotes` of a line draws them all alike whatever is typed",
    addressed="client",
    client="“{text}” has {found} where most of your list has {usual}. May we make them alike?",
    source=f"the other texts of the same list; {_COMMON}",
)
CUT_SHORT = Kind(
    code="text.cut-short",
    severity=Severity.ASK,
    message="{cell} has exactly {length} characters, the most that some programs keep: “{text}”",
    why="Some programs silently cut longer texts off at this length.",
    remedy="ask the client for the whole text",
    addressed="client",
    client="The text of {cell} may have been cut off on its way (“{text}”). Is it complete?",
    source="published limits: 255 characters of older formats, 32,767 of a cell",
)
FORMAT_LOST = Kind(
    code="text.format-lost",
    severity=Severity.ASK,
    message="{cell} “{text}” has {what} in the sheet, which is not carried over",
    why="What is raised or struck out in the sheet would be cut like the rest.",
    remedy="ask the client how it should read; raised letters can be typed as such (ª, º, ²)",
    addressed="client",
    client="“{text}” has {what} in your list. How should it be cut?",
    source="the cell's own formatting",
)

KINDS: tuple[Kind, ...] = (
    PLACEHOLDER,
    REMARK_INSIDE,
    SEVERAL_NAMES,
    SURNAME_FIRST,
    DOUBLED_WORD,
    SPACE_ODD,
    STRAY_MARK,
    STRAY_DIGIT,
    SYMBOL,
    UNBALANCED,
    NAME_FORM,
    TITLE_ODD,
    AMPERSAND_ODD,
    APOSTROPHE_ODD,
    CUT_SHORT,
    FORMAT_LOST,
)
