"""Words in the cells of names besides the names themselves. In common use; no source."""

from __future__ import annotations

import re

TITLES = frozenset(
    """mr mrs ms miss mx master dr prof professor sir dame lord lady hon rev revd reverend fr father sister brother br
    canon dean bishop rabbi imam pastor capt captain cdr commander col colonel gen general lt lieutenant maj major sgt
    sergeant cpl adm admiral cllr councillor judge justice ambassador president emeritus emerita herr frau hr fru m mme
    mlle monsieur madame mademoiselle dott dottssa ing sr sra srta señor señora don doña sig sigra dhr mevr drs ir pan
    paní the late""".split()
)
SUFFIXES = frozenset(
    """jr jnr junior snr senior i ii iii iv v vi obe mbe cbe kbe dbe om ch cvo mvo frs frcs phd md ba bsc ma msc mba
    esq esquire qc kc jp dl rn ret retd""".split()
)
PARTICLES = frozenset(
    """a à af al an and ap aus av bar ben bin bint binti da dal dalla das de degli dei del dela della den der des di do
    dos du e el en et fitz i ibn in la las le les lo los mac na ni o of og och ten ter the die auch genannt
    till tot und us van vel vom von y z zu zum zur 't 's""".split()
)
_PLACEHOLDER = re.compile(
    r"t\.?b\.?[acd]\.?|n/?a|n\.a\.|x{2,}|\?+|-+|–|—|_+|\.{2,}|none|nil|null|unknown|pending|to follow|to come|"
    r"to be (?:confirmed|advised|decided|announced|arranged)|same(?: as above)?|as above|ditto|do\.|\"|〃|"
    r"(?:insert |your |enter )?(?:name|full name)(?: here)?|first(?: name)? last(?: name)?|test|sample|example|"
    r"lorem ipsum.*|asdf\w*|tbc .*|name \d+|recipient \d+|blank|empty|open|vacant|n\.?n\.?|unbekannt|inconnu|"
    r"à confirmer|folgt|noch offen|por confirmar|da definire|not (?:awarded|contested|held|presented)|"
    r"no (?:award|contest|winner|competition|entry|entries)|nicht vergeben|non (?:attribué|décerné)|niet uitgereikt|"
    r"offen|wird nachgereicht|steht noch nicht fest|à définir|à venir|por definir|pendiente|da confermare|in attesa|"
    r"nog onbekend|volgt|n\.?v\.?t\.?|do (?:potwierdzenia|ustalenia)|i['’]w g(?:adarnhau|yhoeddi)|εκκρεμεί|уточняется",
    re.I,
)
_TOTAL = re.compile(
    r"(?:grand |sub[- ]?|sous-|overall |in )?"
    r"(?:totals?|count|sum|(?:zwischen|gesamt)?summe|anzahl|gesamt|insgesamt|totale|totaal|totalt|i alt|summa|"
    r"yhteensä|suma|razem|łącznie|celkem|összesen|cyfanswm|tổng(?: cộng)?|σύνολο|итого|всего|合計|总计|합계)"
    r"(?: (?:of )?(?:plaques?|names?|pieces?|copies|number|count|ordered|order|awards?|medals?|recipients?))?"
    r"\s*[:=]?\s*(?:\d+)?|(?:carried|brought) forward|[bc]/f|übertrag|à reporter",
    re.I,
)
_BETWEEN = re.compile(r"[\s.,;:/()\"“”„«»]+")


def split_tokens(text: str) -> list[str]:
    """Split a folded name into words; hyphens and apostrophes stay inside a word."""
    return [t for t in (w.strip("-'’") for w in _BETWEEN.split(text)) if t]


def is_placeholder(text: str) -> bool:
    """Return whether a text stands for a name that is still to come, “pending”, or for none, “not awarded”."""
    return bool(_PLACEHOLDER.fullmatch(text))


def is_totals_label(text: str) -> bool:
    """Return whether a text labels a sum: “Total”, “number of plaques: 12”."""
    return bool(_TOTAL.fullmatch(" ".join(text.split())))
