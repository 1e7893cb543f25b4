"""Kinds of finding: text.*, the wording of one cell."""

from __future__ import annotations

from pipeline.core.findings import Edit, Kind, Severity

TIDIED = Kind(
    code="text.tidied",
    severity=Severity.NOTE,
    message="{cell}: {changes}; it will be cut as “{text}”",
    why="Spaces nobody sees in a sheet move the lettering off centre; accents typed separately may not join their "
    "letters.",
    remedy="nothing: no letter is changed",
    addressed="nobody",
    source="Unicode NFC (UAX #15); one space between words, none outside",
)
UNSEEN_CHARACTER = Kind(
    code="text.unseen-character",
    severity=Severity.ASK,
    message="{cell} “{text}” holds {characters}, which cannot be seen; {done}",
    why="Invisible characters come from web pages and other programs; they can hide a slip or reverse the text.",
    remedy="compare the name on the proof with what the client meant, letter by letter",
    addressed="maker",
    client="“{text}” came with characters that cannot be seen ({characters}). Is every letter of it right as shown?",
    source="Unicode general categories Cc, Cf, Co, Cn and Default_Ignorable_Code_Point",
)
MIXED_SCRIPT = Kind(
    code="text.mixed-script",
    severity=Severity.ASK,
    message="{cell} “{text}” mixes alphabets: {characters}",
    why="A letter of another alphabet may look the same on the screen and different once it is cut.",
    remedy="type the name afresh in one alphabet, or have the client confirm it",
    addressed="client",
    client="“{text}” has letters of two alphabets in it ({characters}). Is that meant?",
    source="Unicode Script property, UTS #39",
)
ENCODING_DAMAGED = Kind(
    code="text.encoding-damaged",
    severity=Severity.ASK,
    message="{cell} “{text}” looks garbled{suggestion}",
    why="Accented letters are garbled when a program reads a file in the wrong encoding.",
    remedy="ask the client for the right spelling; nothing is changed here",
    addressed="client",
    client="“{text}” seems to have been garbled on its way to us{suggestion}. How is it spelled?",
    source="patterns of wrongly decoded UTF-8 (ftfy), U+FFFD, a question mark inside a word",
)
ENCODING_UNSURE = Kind(
    code="text.encoding-unsure",
    severity=Severity.ASK,
    message="{cell} “{text}” has letters that depend on the file's encoding, which was guessed",
    why="A wrong guess turns one letter into another, and the result still looks like a name.",
    remedy="compare it with the client's own spelling, then write `encoding` into [list], which ends the question",
    addressed="client",
    client="Is “{text}” spelled right, accents and all?",
    source="`list.encoding-unsure` names the encodings in question",
)
CASE_ODD = Kind(
    code="text.case-odd",
    severity=Severity.ASK,
    message="{cell} “{text}” is {how}",
    why="One name with other capitals than the rest stands out on the wall.",
    remedy="ask the client; nothing is changed here",
    addressed="client",
    client="“{text}” is {how}. Should it be cut like that?",
    source="the other names of the same list",
)

MARKS_TYPED = Kind(
    code="text.marks-typed",
    severity=Severity.NOTE,
    message="line {line} “{text}” has the {changes} of a keyboard; drawn for lettering it is “{better}”",
    why="A keyboard has one mark where lettering has several; the straight one looks like a slip.",
    remedy="write tidy_quotes = true for this line, and it is cut that way",
    addressed="maker",
    edits=((Edit(table="line", key="tidy_quotes", value=True),),),
    source="the language's own marks (Unicode CLDR); inches, minutes and hyphens inside words stay",
)
MARKS_TIDIED = Kind(
    code="text.marks-tidied",
    severity=Severity.NOTE,
    message="line {line} is cut as “{better}” instead of “{text}”: {changes} as they are drawn for lettering",
    why="`tidy_quotes` of the line asks for it; no letter is changed.",
    remedy="nothing, if it looks right on the proof",
    addressed="nobody",
    client="This line is cut with drawn {changes}: “{better}”.",
    source="the language's own marks (Unicode CLDR)",
)

MOST_CHARACTERS = 500
"""Of one cell that is lettered: a dozen lines of a memorial have fewer. Own rule."""
MOST_MARKS = 12
"""On one letter: pointed Hebrew with accents has up to five, a Tibetan stack up to seven. Own rule; the Stream-Safe
Text Format of Unicode (UAX #15) allows 30."""

ENDLESS = Kind(
    code="text.endless",
    severity=Severity.STOP,
    message="{cell} holds {count} characters, from “{text}” on; at most {most} are lettered",
    why="No plaque holds so much text: it is a whole list in one cell, or a damaged file.",
    remedy="look at the cell, and ask the client what should stand there",
    addressed="client",
    client="Cell {cell} of your list holds {count} characters (“{text}”). What should stand there?",
    source=f"{MOST_CHARACTERS} characters in a cell that is lettered: own rule",
)
MARKS_PILED_UP = Kind(
    code="text.marks-piled-up",
    severity=Severity.STOP,
    message="{cell} puts {count} marks on one letter, in “{text}”; at most {most} are lettered",
    why="No spelling needs so many. They come from a joke or a damaged file, and can't be cut.",
    remedy="ask the client for the right spelling",
    addressed="client",
    client="Cell {cell} of your list puts {count} accents on one letter (“{text}”). How is it spelled?",
    source=f"{MOST_MARKS} marks on a letter: own rule, below the 30 of the Stream-Safe Text Format (UAX #15)",
)

KINDS: tuple[Kind, ...] = (
    ENDLESS,
    MARKS_PILED_UP,
    MARKS_TYPED,
    MARKS_TIDIED,
    TIDIED,
    UNSEEN_CHARACTER,
    MIXED_SCRIPT,
    ENCODING_DAMAGED,
    ENCODING_UNSURE,
    CASE_ODD,
)
