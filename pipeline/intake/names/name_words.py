"""Words in names besides the names themselves. In common use; no source."""

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

_BETWEEN = re.compile(r"[\s.,;:/()\"“”„«»]+")


def split_tokens(text: str) -> list[str]:
    """Split a folded name into words; hyphens and apostrophes stay inside a word."""
    return [t for t in (w.strip("-'’") for w in _BETWEEN.split(text)) if t]
