"""Everything the proof says, apart from the findings. In English; `[proof] language` of another kind is refused."""

from __future__ import annotations

from pipeline.outputs.proof.volumes import Volume

LANGUAGE = "en"

KICKER = "PROOF FOR YOUR APPROVAL"
STEPS_HEAD = "What we ask of you"
LOOK = (
    "Look at every plaque",
    "Each name will be cut exactly as it is drawn here. Please check every letter, accent, title and full stop.",
)
MARK = (
    "Tick or change",
    "Tick “correct as shown”, or write what it should be under “change to”. Tick “do not cut” to leave one out.",
)
QUESTIONS = ("Answer our questions", "They stand beside the plaques they concern and are listed on page {page}.")
CHOOSE = ("Choose for names that cannot be cut", "Reasons and choices are on page {page}.")
DECIDE = (
    "Decide on the last page",
    "Fill in your decision, name and date on page {page}, and send this file back{to}.",
)
NOTHING_WHOLE = (
    "Nothing to agree to yet",
    "The order cannot be made as it stands, so nothing is cut and no agreement is asked for. We will put it right and "
    "send you a new proof.",
)
NOTHING = (
    "Nothing to agree to yet",
    "None of these can be cut as they stand, so no agreement is asked for. A new proof follows.",
)
ANSWER_LAST = ("Send this file back", "Fill in your name and date on page {page}, and send this file back{to}.")
ROWS_SHOWN, ROWS_AGREED = "to check in this proof", "answered earlier"
KEEP_FILE = "Please fill in this file itself, or print and sign it; a scan or photograph has to be read in by hand."

RULER = "This bar is 100 mm (3.937 in) long when the page is printed at 100 % (“actual size”)."
RULER_WHY = "If it measures less, the plaques on your print are smaller than they will be."

COUNT_DESIGNS = ("plaque to check", "plaques to check")
COUNT_PIECES = ("piece in all", "pieces in all")
COUNT_QUESTIONS = ("question for you", "questions for you")
COUNT_STOPPED = ("name that cannot be cut yet", "names that cannot be cut yet")

LEGEND = "On the drawings"
LEGEND_POCKET = "pocket"
LEGEND_KEEP_OUT = "kept free of lettering"
LEGEND_LETTERING = "lettering as it will be cut"

QUESTIONS_HEAD = "Our questions"
QUESTIONS_INTRO = "Each of these stands beside its plaque, with room for your answer."
WHOLE_ORDER = "About the whole order"
STOPPED_HEAD = "Names that cannot be cut as they are"
STOPPED_INTRO = (
    "These are not on the following pages and nothing will be cut for them until you have chosen. "
    "Write your choice, or the name as it should be, under each."
)
STOPPED_OTHERWISE = "It cannot be cut as it stands. We will come back to you with a proposal."
STOPPED_FAULT = "We could not prepare this one yet and will come back to you."
EMPTY_CELL = "(nothing that can be read)"
YOUR_CHOICE = "your choice"

PLAQUES_HEAD = "Plaques"
INDEX_HEAD = "Names and pages"
NOTE_HEAD = "From the workshop"

CHANGED = "changed since proof {revision}"
NOW = "now"
AGREED_HEAD = "Answered earlier"
AGREED_INTRO = "These were answered earlier and have not changed since. There is nothing to do for them."
COUNT_AGREED = ("plaque answered earlier", "plaques answered earlier")
LATER = (
    "This is proof {revision}. It shows only what has changed, is new or is still open: {shown}. "
    "Everything else was answered earlier and is listed on page {page}."
)
LATER_HEAD = "Only what is open"
VOLUME = "volume {number} of {count}"
VOLUME_STEP = (
    "This is {volume}",
    "This proof comes in several files, because one would be too large to send; a file with nothing left to answer is "
    "not sent again. This one shows {shown}. Please answer and send back each file by itself.",
)

MAGNIFIED = "{times} × true size"
LARGER = "the lettering at true size"
LARGER_REDUCED = "the lettering at {percent} % of true size"

CORRECT = "correct as shown"
LEAVE = "do not cut"
CHANGE = "change to"
ANSWER = "your answer"
QUESTION_HINT = "If it is right as drawn, tick “correct as shown”; otherwise write what it should be."
TRUE_SIZE = "true size"
REDUCED = "drawn at {percent} % of true size"

SIGN_HEAD = "Your decision"
SIGN_INTRO = "This sheet covers {pieces} on pages {first} to {last} of proof {revision} of “{title}”."
SIGN_VOLUME = "Your decision here is about {volume} only; every volume has its own."
ALL_CORRECT = "All plaques are correct as shown"
ALL_CORRECT_HINT = "Covers every plaque you have not ticked, changed or left out yourself."
ALL_CORRECT_ASKED = "Plaques with a question still need their own tick or answer."
AGREED = ("agreed-as-shown", "Agreed as shown")
AGREED_CHANGES = ("agreed-with-changes", "Agreed with the changes written here")
NEW_PROOF = ("new-proof", "Please send a new proof")
DECISIONS = (AGREED, AGREED_CHANGES, NEW_PROOF)
REMARKS = "anything else"
NAME = "name"
DATE = "date"
SIGNATURE = "signature (on paper)"
CAUTION = (
    "Names are cut as shown and a cut cannot be taken back. Please have a second person read them, "
    "letter by letter and accent by accent."
)
IDENTITY_TIP = "What this proof shows, for reading it back"
CONTENTS = "In this proof"


def format_count(number: int, words: tuple[str, str]) -> str:
    """'1 plaque', '3 plaques'."""
    return f"{number} {words[0] if number == 1 else words[1]}"


def volume(which: Volume) -> str:
    """'volume 2 of 4'."""
    return VOLUME.format(number=which.number, count=which.count)


def format_rows(rows: tuple[int, ...]) -> str:
    """'row 5', 'rows 5 and 10', 'rows 5–8, 12'."""
    if len(rows) == 1:
        return f"row {rows[0]}"
    spans: list[tuple[int, int]] = []
    for row in sorted(set(rows)):
        if spans and row == spans[-1][1] + 1:
            spans[-1] = (spans[-1][0], row)
        else:
            spans.append((row, row))
    shown = [str(a) if a == b else f"{a}–{b}" if b > a + 1 else f"{a}, {b}" for a, b in spans]
    return "rows " + (" and ".join(shown) if len(shown) == 2 else ", ".join(shown))
