"""Places where a name may be broken into rows, the best first.

Broken only at spaces (and after a katakana middle dot), never inside a name's part, never after a title or an initial,
never before a suffix, and an ampersand or "and" starts a row rather than ending one. These are conventions of the trade
(common practice, no source).

Rows of about equal length look best, so balance decides among the places that these rules allow. They are a subset of
what UAX #14 (Unicode line breaking) allows: a test compares them with Unicode's own cases. No library is used, because
the standard allows far more than suits a name: between any two of 高橋, after a hyphen.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from itertools import combinations, pairwise

TITLES = frozenset(
    """mr mrs ms miss mx dr prof professor rev revd reverend fr father sr sister br brother sir dame lord lady hon
    capt captain cmdr commander lt col colonel maj major gen general sgt sergeant cpl adm admiral cllr councillor
    judge justice rabbi imam pastor canon dean herr frau mme mlle m don doña dona sig sig.ra dott ing dipl.-ing st the
    a an in of for to and & und et y e och og i en ir ja és ve a née né geb""".split()
)
"""Words that stay with the next word, lower case, without full stops."""

COURTESY = frozenset("mr mrs ms miss mx dr prof professor rev revd herr frau m mme señor señora".split())
"""Titles of a couple, "Mr. & Mrs.", which may stand in a row of their own."""

JOINERS = frozenset("& + and und et y e och og ja és ve и та і και".split())
"""Words that start a row."""

PARTICLES = frozenset(
    """van von der den de del della di da do dos das du la le les ten ter zu zum zur af av al el bin bint ibn ben ap mac
    mc ó o' ní nic ua st saint""".split()
)
"""Parts of a surname: no break after them."""

NOT_PERSONS = frozenset(
    """team group crew band club choir guild league union society association foundation trust charity fund memorial
    friends family families school academy college university institute faculty department class form year committee
    council board court office company bank church chapel parish mission hospital clinic museum library gallery theatre
    centre center garden gardens park house hall home farm works studio workshop laboratory lab press partners brothers
    sisters sons daughters volunteers keepers wardens members staff station harbour lighthouse prize award awards verein
    stiftung schule gymnasium hochschule universität gesellschaft freunde familie école collège lycée université
    fondation société amis famille escuela universidad fundación asociación""".split()
)
"""Words that show that a line names something other than one person, lower case."""

SUFFIXES = frozenset(
    """jr sr ii iii iv v esq obe mbe cbe kbe dbe frs dso bem phd md bsc msc mba llb mp qc kc ltd llp llc inc plc co gmbh
    ag kg jnr snr""".split()
)
"""Words that stay with the word before them."""


OPENING = re.compile(
    "(?:sacred to the memory|in (?:(?:ever |most )?(?:loving|fond|grateful|proud) )?(?:memory|honou?r|recognition"
    "|celebration)|the gift|dedicated to the memory) of|(?:presented|awarded|dedicated) (?:to|by)|(?:given|donated) by"
)
"""Words that open an inscription: they get their own row, and the name begins the next."""

POST_NOMINAL = re.compile("[A-Z]{2,5}")
"""Letters after a name, in capitals among words that are not: they stay with the word before them."""

NEVER_FIRST = frozenset("!?.,;:/%…\u2060\u200b" + "ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶーゝゞヽヾ々")
"""Marks and small letters that do not begin a row, even after a space (UAX #14, LB 13, 16), as closing brackets."""


UNMANNERLY = 2.0
"""Cost of a break that manners forbid, where a line may be broken anywhere: dearer than any uneven rows."""


def _strip_marks(word: str) -> str:
    return word.strip(".,;:()").casefold()


def _strip_full_stops(word: str) -> str:
    return word.strip(".,;:()").replace(".", "")


def break_rule(before: str, after: str, capitals: bool = False) -> str:
    """Describe the rule that keeps two words together; empty where none does. capitals: the whole text is in
    capitals, so that capitals alone do not mark letters after a name."""
    left, right = _strip_marks(before), _strip_marks(after)
    if right in SUFFIXES:
        return f"before “{after}”"
    if _is_held(before, after):
        return "at a mark that keeps two words together"
    if left in JOINERS or before == "&":
        return f"after “{before}”, which begins a line"
    if left in TITLES:
        return f"after “{before}”"
    if left in PARTICLES:
        return f"inside a family name, after “{before}”"
    if len(left) == 1 and left.isalpha():
        return f"after the initial “{before}”"
    if not capitals and POST_NOMINAL.fullmatch(_strip_full_stops(after)):
        return f"before the letters “{after}” after a name"
    return ""


def _rate_break(before: str, after: str, capitals: bool) -> float | None:
    """Return the cost of a break between two words; None forbids it. Balance is added later."""
    left, right = _strip_marks(before), _strip_marks(after)
    if break_rule(before, after, capitals):
        return None
    if right in JOINERS:
        return 0.0
    if before.endswith((",", ":", ";", "–", "—", "/", "・")) or (before.endswith((".", "!", "?")) and len(left) > 3):
        return 0.1
    return 0.3


def _is_held(before: str, after: str) -> bool:
    """Return whether a mark keeps two words together: a closing one does not begin a row, an opening one does not end
    it, and marks that stand alone go with what is before them."""
    kind = unicodedata.category(after[0])
    last = next((c for c in reversed(before) if not unicodedata.combining(c)), " ")
    if kind == "Pe" or after[0] in NEVER_FIRST or unicodedata.category(last) == "Ps":
        return True
    if after.casefold() in JOINERS:
        return False
    if kind in ("Ps", "Pi"):
        return last == '"' or unicodedata.category(last) == "Pi"
    return not any(c.isalnum() or unicodedata.category(c) == "So" for c in after)


HYPHENS = "-\u2010"
"""After which a word may be broken where a line may be broken anywhere (UAX #14, classes HY and HH)."""


def split_words(text: str, *, hyphens: bool = False) -> list[str]:
    """Split a text into its unbreakable parts. A no-break space never separates; an ideographic space and ・ do, and so
    does a hyphen between letters if `hyphens` is set."""
    words: list[str] = []
    after = rf"(?<=・)|(?<=\w[{HYPHENS}])(?=\w)" if hyphens else "(?<=・)"
    for chunk in text.replace("\u3000", " ").split(" "):
        words += [part for part in re.split(after, chunk) if part]
    return words


def _list_joints(text: str, words: list[str]) -> list[str]:
    """List what stands between each word and the next: a space, or nothing after ・ and inside a word."""
    glue, at = [], 0
    spaced = text.replace("\u3000", " ")
    for word in words:
        at = spaced.index(word, at) + len(word)
        glue.append(" " if spaced[at : at + 1] == " " and not word.endswith("・") else "")
    return glue


def break_places(
    text: str, rows: int, width: Callable[[str], float], *, anywhere: bool = False
) -> list[tuple[str, ...]]:
    """Return all acceptable ways to break a text into exactly `rows` rows, the best first. anywhere: at any space and
    after hyphens inside words, whatever the rules; breaks within the rules still come first.

    `width` measures a row in any unit. The best minimises the cost of its breaks plus the length of its longest row as
    a fraction of the whole.
    """
    words = split_words(text, hyphens=anywhere)
    capitals = text == text.upper()
    costs = [_rate_break(a, b, capitals) for a, b in pairwise(words)]
    for i in range(len(words) - 1):
        if (
            i >= 2
            and {_strip_marks(words[i]), _strip_marks(words[i - 2])} <= COURTESY
            and words[i - 1].casefold() in JOINERS
        ):
            costs[i] = 0.15  # a break after "Mr. & Mrs."
        if i < 6 and OPENING.fullmatch(" ".join(words[: i + 1]).casefold()):
            costs[i] = 0.0
    if anywhere:
        costs = [UNMANNERLY if cost is None else cost for cost in costs]
    places = [i + 1 for i, cost in enumerate(costs) if cost is not None]
    widths: dict[tuple[int, int], float] = {}
    glue = _list_joints(text, words)

    def join_words(a: int, b: int) -> str:
        return "".join(word + (glue[a + i] if a + i < b - 1 else "") for i, word in enumerate(words[a:b]))

    def measure_row(a: int, b: int) -> float:
        if (a, b) not in widths:
            widths[a, b] = width(join_words(a, b))
        return widths[a, b]

    if len(places) > 24:  # a text, not a name: consider only breaks near the even ones
        total = len(words)
        near = {min(places, key=lambda p, k=k: abs(p - total * k / rows)) for k in range(1, rows)}  # type: ignore[misc]
        places = sorted({p for p in places if any(abs(p - n) <= 3 for n in near)})
    ranked = []
    for chosen in combinations(places, rows - 1):
        cuts = (0, *chosen, len(words))
        spans = list(pairwise(cuts))
        longest = max(measure_row(a, b) for a, b in spans)
        whole = sum(measure_row(a, b) for a, b in spans) or 1.0
        welcome = sum(costs[c - 1] or 0.0 for c in chosen) / max(rows - 1, 1)
        ranked.append((welcome + longest / whole, tuple(join_words(a, b) for a, b in spans)))
    return [rows_ for _, rows_ in sorted(ranked, key=lambda item: item[0])]
