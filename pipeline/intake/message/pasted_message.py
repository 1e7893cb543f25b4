"""A list pasted from a message: one name per line, and whatever people write round it.

Kept apart from names: greetings, closings, the sender's own lines, quoted earlier messages. Removed from names:
quotation marks of replies, numbering, and the number of pieces wanted. Everything is reported; whatever isn't certain
becomes a question. The words are those of ordinary letters in a dozen languages; common practice, no source.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.catalogue import list_kinds
from pipeline.core.findings import Fact, Finding, build_finding
from pipeline.intake.names.name_words import is_totals_label
from pipeline.intake.names.wording import shorten
from pipeline.intake.recipients.header_guess import is_name
from pipeline.intake.recipients.headings import find_meaning
from pipeline.intake.spreadsheet.sheet import Cell, LetterPart, Row, Told, classify_text


@dataclass(frozen=True, slots=True)
class PastedMessage:
    """The lines with the names alone, and remarks on lines by number."""

    rows: tuple[Row, ...]
    told: Mapping[int, Told]


def drop_quotes(rows: Sequence[Row]) -> tuple[list[Row], dict[int, str]]:
    """Remove the quotation marks of replies; return the lines, and those marks by line."""
    out, quoted = [], {}
    for row in rows:
        if found := _QUOTE.match(row.cells[0].shown):
            quoted[row.number] = found[0].strip()
            row = _replace_text(row, 0, row.cells[0].shown[found.end() :])  # noqa: PLW2901
        out.append(row)
    return out, quoted


def read_message(rows: Sequence[Row], quoted: Mapping[int, str]) -> PastedMessage:
    """Read the lines of a text of one column, or of two when the first holds only marks. `rows` hold text alone;
    `quoted` is what `drop_quotes` removed."""
    lines = [_Line(row, row.cells[-1].shown, quoted.get(row.number, "")) for row in rows]
    _take_marks(lines)
    for line, part in zip(lines, _split_parts(lines), strict=True):
        line.part = part
        if not part:
            _take_copies(line)
    told = {line.row.number: line.read_pieces() for line in lines if line.part or line.taken or line.said}
    return PastedMessage(tuple(line.build_row() for line in lines), told)


class _Line:
    """A line while it is being read."""

    __slots__ = ("copies", "part", "quoted", "row", "said", "sure", "taken", "text")

    def __init__(self, row: Row, text: str, quoted: str) -> None:
        self.row, self.text, self.quoted = row, text, quoted
        self.part: LetterPart = ""
        self.taken: list[str] = [quoted] if quoted else []
        self.copies, self.said, self.sure = 1, "", True

    @property
    def marked(self) -> bool:
        """Return whether the line is numbered, or has a bullet."""
        return len(self.row.cells) > 1 or len(self.taken) > bool(self.quoted)

    def read_pieces(self) -> Told:
        return Told(part=self.part, taken=tuple(self.taken), copies=self.copies, copies_said=self.said, sure=self.sure)

    def build_row(self) -> Row:
        return self.row if self.text == self.row.cells[-1].shown else _replace_text(self.row, -1, self.text)


def _replace_text(row: Row, at: int, text: str) -> Row:
    cells = list(row.cells)
    cells[at] = Cell(row.number, cells[at].column, classify_text(text), text, text)
    return dataclasses.replace(row, cells=tuple(cells))


# --- marks in front ----------------------------------------------------------------------------------------------

_QUOTE = re.compile(r"\s*(?:>\s?)+(?=\S)")
"""“> Ann Skua” in a reply. A line of “>” alone stays as it is."""


_LETTERED = re.compile(r"\s*(\(?([a-z])[.)])\s+(?=[^\W\d_])")
_NUMBERED = re.compile(r"\s*(\(?(\d{1,3})\s?[.):])\s*(?=[^\W\d_])")
_DOTTED = re.compile(r"\s*([-*•·–—▪◦►‣])\s+(?=[^\W\d_])")


def _take_marks(lines: Sequence[_Line]) -> None:
    """Remove “1. Ann Skua”, “b) …”, “- …” in a list without a column of marks: numbers and letters have to continue
    from the first, bullets have to be alike, and there have to be at least two."""
    if any(len(line.row.cells) > 1 for line in lines):
        return
    for pattern in (_NUMBERED, _LETTERED, _DOTTED):
        found = [(line, mark) for line in lines if (mark := pattern.match(line.text))]
        said = [mark[mark.re.groups] for _, mark in found]
        alike = len(set(said)) == 1 if pattern is _DOTTED else said == list(_COUNTS[pattern is _NUMBERED][: len(said)])
        if len(found) > 1 and alike:
            for line, mark in found:
                line.taken.append(mark[1])
                line.text = line.text[mark.end() :]
            return


_COUNTS = (tuple("abcdefghijklmnopqrstuvwxyz"), tuple(str(n) for n in range(1, 1000)))


# --- how many ----------------------------------------------------------------------------------------------------

_PIECES = (
    r"(?:copies|copy|off|pcs?\.?|pieces?|plaques?|plates?|medals?|times|stück|stk\.?|mal|schilder|exemplaires?|ex\.?|fois|"
    r"plaquettes?|unidades|uds?\.?|veces|placas?|copie|pezzi|volte|targhe|stuks|keer|st|szt\.?|sztuki|copi|vezes|"
    r"måste|stykker|kpl|τεμάχι[οα]|τεμ\.?|шт\.?|штук[аи]?|экз\.?)"
)
_TIMES = r"(?:[x×✕*]\s?(?P<after>\d{1,3})|(?P<before>\d{1,3})\s?[x×✕](?!\w)|(?P<said>\d{1,3})\s?" + _PIECES + r")"
_TIMES_IN_BRACKETS = r"[(\[]\s*" + _TIMES.replace("?P<", "?P<b_") + r"\s*[)\]]"
_AT_END = re.compile(rf"[\s,;:–—-]*(?<=[\s,;:–—-])(?:{_TIMES_IN_BRACKETS}|{_TIMES})[\s.,;]*$", re.I)
_BEFORE_REMARK = re.compile(rf"[\s,;–—-]+{_TIMES}(?=\s*[(\[][^()\[\]]*[)\]]\s*$)", re.I)
_AT_START = re.compile(rf"\s*{_TIMES}\s*[:–—-]?\s+(?=[^\W\d_])", re.I)
_BARE = re.compile(r"\s*(?:[(\[]\s*(\d{1,3})\s*[)\]]|[–—-]\s*(\d{1,3}))\s*$")
_MOST = 99
"""Most copies that are accepted without a question."""


def _take_copies(line: _Line) -> None:
    """Remove “x2”, “2x”, “(2 copies)” at either end of the line; “(2)” alone becomes a question."""
    for pattern in (_AT_END, _BEFORE_REMARK, _AT_START):
        if found := pattern.search(line.text):
            if pattern is _AT_START and found.start() > 0:
                continue
            number = int(next(text for name, text in found.groupdict().items() if text))
            rest = (line.text[: found.start()] + line.text[found.end() :]).strip()
            if any(map(str.isalpha, rest)) and not is_totals_label(rest):
                _note_copies(line, found[0].strip(" \t,;:–—-"), number, rest, 0 < number <= _MOST)
            return
    if found := _BARE.search(line.text):
        number, rest = int(found[1] or found[2]), line.text[: found.start()].strip()
        if any(map(str.isalpha, rest)) and not is_totals_label(rest):
            _note_copies(line, found[0].strip(), number, rest, False)


def _note_copies(line: _Line, said: str, number: int, rest: str, sure: bool) -> None:
    line.said, line.sure, line.text = said, sure, rest
    line.copies = number if 0 < number <= _MOST else 1
    line.taken.append(said)


# --- the letter round the list -----------------------------------------------------------------------------------

_HEAD = re.compile(
    r"(?:from|to|cc|bcc|sent|date|subject|re|fw|fwd|von|an|gesendet|datum|betreff|aw|wg|de|à|envoyé|objet|da|inviato|oggetto|"
    r"van|aan|verzonden|onderwerp|para|enviado|asunto|assunto|od|do|wysłano|temat|från|till|skickat|ämne)\s?:\s.*|"
    r"-+\s?(?:original message|forwarded message|ursprüngliche nachricht|message d'origine|mensaje original).*",
    re.I,
)
_WROTE = re.compile(r".*\b(?:wrote|schrieb|a écrit|escribió|ha scritto|schreef|skrev|escreveu|napisała?)\b.*:$", re.I)
_GREETING = re.compile(
    r"(?:hi|hello|hey|dear|good (?:morning|afternoon|evening|day)|hallo|moin|guten (?:morgen|tag|abend)|liebe[rs]?|"
    r"sehr geehrte[rs]?|bonjour|bonsoir|cher|chère|chers|chères|madame|monsieur|hola|buenos días|buenas tardes|"
    r"estimad[oa]s?|querid[oa]s?|buongiorno|salve|gentil[ei]|egregi[oa]|beste|geachte|goedemorgen|goedemiddag|dag|hej|"
    r"bästa|kære|dzień dobry|szanown[aiy]|cześć|drog[ai]|annwyl|bore da|prynhawn da|helo|olá|bom dia|boa tarde|"
    r"prezad[oa]s?|car[oaie]|ciao|salut)\b(?P<rest>.{0,60})",
    re.I,
)
_NO_NAMES = frozenset("dear hi hello hey hallo liebe lieber bonjour hola estimado estimada".split())
"""Greetings that no name begins with: “Dear Guillemot”, but not “Cara Wren”."""
_CLOSING = re.compile(
    r"(?:"
    r"(?:with )?(?:(?:very )?(?:best|kind(?:est)?|warm(?:est)?|many)|all the best|all best)"
    r"(?: (?:wishes|regards|thanks|of luck))?|regards|ta|cheers|sincerely|thank you(?: (?:very|so) much)?|"
    r"thanks?(?: (?:very|so) much)?(?: (?:again|all))?|yours(?: (?:sincerely|faithfully|truly|ever))?|"
    r"(?:mit )?(?:freundliche|beste|herzliche|schöne|liebe|viele)[nmr]? (?:grüßen?|gruß|gruss|grüssen?|dank)|"
    r"danke(?: (?:schön|sehr))?|lg|mfg|vg|"
    r"merci(?: (?:beaucoup|bien|d['’]avance))?|cordialement|bien (?:cordialement|à vous)|amicalement|salutations|"
    r"(?:muchas )?gracias|(?:un )?(?:cordial(?:es)? )?saludos?|atentamente|"
    r"grazie(?: mille)?|(?:cordiali|distinti|tanti) saluti|un saluto|"
    r"(?:met )?(?:vriendelijke|hartelijke) groet(?:en)?|groet(?:en|jes)?|(?:alvast )?bedankt|dank u|"
    r"tack(?: (?:så mycket|på förhand))?|mvh|(?:med )?vänliga hälsningar|(?:med )?venlig hilsen|hilsen|tusen takk|"
    r"pozdrawiam|pozdrowienia|dziękuję|z poważaniem|diolch(?: yn fawr)?|cofion(?: gorau)?|"
    r"(?:muito )?obrigad[oa]|atenciosamente|um abraço|"
    r"sent from my .*|get outlook for .*|von meinem .* gesendet|envoyé de mon .*)"
    r"(?P<rest>$|\s*[,.!;:–—-].{0,60}$|"
    r"\s(?:for|in advance|from|to|if|und|für|im voraus|pour|por|per|voor|na)\b.*$)",
    re.I,
)
_EMPTY = re.compile(r"[>|\s]+")
_RULE = re.compile(r"\s*(?:--|—|––|_{2,}|-{3,}|\*{3,}|={3,})\s*")
"""The line before a signature: “-- ” by custom (RFC 3676, 4.3), or a rule of any kind."""
_CONTACT = re.compile(r"@|https?:|www\.|\+?\d[\d\s()/.-]{5,}|\b(?:tel|phone|mobile?|fax|tél)\b", re.I)
MOST_SENDER = 8
"""Most lines after a closing that may be the sender's: name, office, address, telephone."""


def _split_parts(lines: Sequence[_Line]) -> Iterator[LetterPart]:
    """Return the role of each line in the letter, in order."""
    listed = [n for n, line in enumerate(lines) if line.marked]
    named = [n for n, line in enumerate(lines) if line.marked or is_name(line.text)]
    closed = 0  # lines since the closing; 0: no closing so far
    unquoted = sum(not line.quoted for line in lines if is_name(line.text))
    begun = False  # whether a line of the list has been seen
    for n, line in enumerate(lines):
        text = " ".join(line.text.split())
        before_list = not listed or n < listed[0]
        later = sum(m > n for m in named)
        if line.marked:
            closed, begun = 0, True
            yield ""
        elif _is_of_head(text) or (before_list and not begun and _is_greeting(text)):
            yield "a line of a letter"
        elif _is_ending(text, later) or _RULE.fullmatch(line.text):
            closed = 1
            yield "a line of a letter"
        elif _is_introducing(text):
            closed = 0
            yield "a line of a letter"
        elif closed and closed <= MOST_SENDER and (_CONTACT.search(text) or not _is_list_following(lines, n, closed)):
            closed += 1
            yield "the sender's name" if _may_be_sender(text) else "a line of a letter"
        elif line.quoted and unquoted > 2 and sum(bool(o.quoted) for o in lines) < 0.5 * len(lines):
            yield "part of an earlier message"
        else:
            closed, begun = 0, True
            yield ""


def _is_of_head(text: str) -> bool:
    return any(pattern.fullmatch(text) for pattern in (_EMPTY, _HEAD, _WROTE))


def _is_greeting(text: str) -> bool:
    """Return whether a line is a greeting, “Dear Ms Skua,”: with a mark at its end, nothing but the greeting, or with
    one that no name begins with."""
    found = _GREETING.fullmatch(text)
    if found is None:
        return False
    rest = found["rest"].strip()
    if len(rest.split()) > 4 and is_naming_somebody(rest):
        return False
    return not rest or rest[-1] in ",!:.;" or not is_name(text) or text.split(maxsplit=1)[0].casefold() in _NO_NAMES


def _is_ending(text: str, later: int) -> bool:
    found = _CLOSING.fullmatch(text)
    if found is None or (len(text.split()) > 5 and is_naming_somebody(found["rest"])):
        return False
    return not (is_name(text) and not found["rest"].strip() and later and len(text.split()) > 2)


def _is_introducing(text: str) -> bool:
    """Return whether a line introduces the list, “Please engrave:”, “Hier die Namen:”: it ends in a colon and isn't a
    name."""
    bare = text.rstrip(" :")
    if is_naming_somebody(bare):
        return False
    return text.endswith(":") and find_meaning(bare) is None and not is_name(bare)


def _is_list_following(lines: Sequence[_Line], at: int, closed: int) -> bool:
    """Return whether the names come after the closing, as below a short letter. The line at the closing is the
    sender's."""
    adjacent = closed == 1 and at > 0 and lines[at].row.number == lines[at - 1].row.number + 1
    alone = " " not in lines[at - 1].text.strip(" ,.!")  # “Thanks,” but not “Thanks, Joan”
    if adjacent and (alone or not is_name(lines[at].text)):
        return False
    before = sum(is_name(line.text) and not line.part for line in itertools.islice(lines, at))
    after = sum(is_name(line.text) for line in itertools.islice(lines, at, None))
    return after > 2 and after > before


def _may_be_sender(text: str) -> bool:
    """Return whether a line after the closing could be a name rather than an address or an office."""
    words = text.split()
    return 0 < len(words) < 5 and not any(c.isdigit() for c in text) and "@" not in text and words[0][0].isupper()


def list_taken_off(told: Told, row: int, cell: str, shown: str) -> list[Finding]:
    """Report what was removed from a name, and how many pieces were read beside it."""
    if not told.taken:
        return []
    taken = ", ".join(f"“{shorten(mark, 20)}”" for mark in told.taken)
    counted = f"; {told.copies} piece{'s' if told.copies != 1 else ''} counted" if told.copies_said else ""
    facts: dict[str, Fact] = {"cell": cell, "taken": taken, "text": shown, "copies": counted}
    out = [build_finding(list_kinds.TAKEN_OFF, row=row, cell=cell, facts=facts)]
    if not told.sure:
        said = f"has “{shorten(told.copies_said, 20)}” beside the name"
        unclear: dict[str, Fact] = {"found": said, "copies": told.copies, "text": shown}
        out.append(build_finding(list_kinds.COPIES_UNCLEAR, row=row, cell=cell, facts=unclear))
    return out


_NAMES = re.compile(r"(?<![\w.])(?:[A-ZÀ-ÖØ-ÞĀ-Ž][\w'’-]+\.?\s+){1,3}[A-ZÀ-ÖØ-ÞĀ-Ž][\w'’-]+")


def is_naming_somebody(text: str) -> bool:
    """Return whether a sentence has two capitalised words side by side, not counting its first word."""
    first, _, rest = text.partition(" ")
    return is_name(text) or bool(_NAMES.search(rest)) or (first[:1].islower() and bool(_NAMES.search(text)))
