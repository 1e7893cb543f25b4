"""Kinds of finding: face.*, what a face lacks, forbids or had to have repaired."""

from __future__ import annotations

from pipeline.core.catalogue import ways
from pipeline.core.findings import Kind, Severity

GLYPH_MISSING = Kind(
    code="face.glyph-missing",
    severity=Severity.STOP,
    message="line {line} “{text}”: no {characters} in {face}",
    why="A letter missing from the typeface would be left out, cut as an empty box, or cut with its accent astray: a "
    "misspelled name.",
    remedy="",
    ways=(ways.WHOLE_LINE, ways.ALSO, ways.ASK_FONT, ways.OTHER_CUTTER, ways.EACH_ALONE, ways.NO_FACE),
    client="“{text}” has characters that are missing from the chosen typeface: {letters}. We will propose another "
    "typeface.",
    source="the font file's own table of characters, after joining and composing marks; an accent it does not place "
    "makes its letter count as missing",
)
MIXED_WORD = Kind(
    code="face.mixed-word",
    severity=Severity.ASK,
    message="line {line} “{text}”: not in {face}, and taken from {other} inside a word: {characters}",
    why=("A letter from another typeface differs from its neighbours in strokes and height: it looks like a mistake."),
    remedy="leave it, if it looks right on the proof and the client agrees",
    addressed="maker",
    ways=(ways.WHOLE_LINE,),
    client="The chosen typeface lacks {letters} of “{text}”: drawn in another typeface, which looks different "
    "beside the other letters. Is that agreed?",
    source="the font files' own tables of characters; `also` of the line in order.toml",
)
LICENCE_FORBIDS = Kind(
    code="face.licence-forbids",
    severity=Severity.ASK,
    message="the font file of {face} says: {permission}",
    why="The owner of a typeface decides how its file may be used; the file itself carries a note of it (fsType).",
    remedy="ask the client for written permission, or for a file whose licence allows it, before this is cut or sent "
    "out",
    addressed="client",
    client="The typeface file you sent says “{permission}”. Do you have the owner's permission to use it for this "
    "work?",
    source="OpenType specification, OS/2 table, fsType",
)
OUTLINE_REPAIRED = Kind(
    code="face.outline-repaired",
    severity=Severity.NOTE,
    message="line {line}: the outline of “{glyph}” in {face} crosses itself and was repaired, nowhere by more "
    "than {bound:mm}",
    why="A crossing outline has no clear inside; it was redrawn as short straight lines.",
    remedy="look at this letter on the proof; nothing else is needed if it looks right",
    addressed="maker",
    source="outlines are united as curves and checked for crossings before anything is measured",
)

SPECKS = Kind(
    code="face.specks",
    severity=Severity.NOTE,
    message="line {line}: the outline of “{glyph}” in {face} holds specks ({specks} of them, each less than {side:mm} "
    "square), which are left out",
    why=(
        "No cutter can make so small a contour and no eye sees it, but it would be cut as a separate part, and be the "
        "narrowest stroke of its letter. It is a slip of the font's maker, or what uniting two letters leaves."
    ),
    remedy="nothing, if this letter looks right on the proof",
    addressed="nobody",
    source="a contour or hole of less than a square on 1/250 of the cap height; common practice, no source",
)

HOLLOW = Kind(
    code="face.hollow",
    severity=Severity.ASK,
    message="line {line}: {cutter} follows the outlines of letters in {face} once, which leaves them hollow; the proof "
    "shows them solid",
    why="A point clears no area. What the client signs for has to be what they get.",
    remedy="take a typeface of single lines (`plaques faces` shows the shelf's), or have the program of the machine "
    "fill the outlines",
    addressed="maker",
    source="the kind of the cutter, and the typeface, which has letters with a width",
)

KINDS: tuple[Kind, ...] = (GLYPH_MISSING, MIXED_WORD, LICENCE_FORBIDS, OUTLINE_REPAIRED, SPECKS, HOLLOW)
