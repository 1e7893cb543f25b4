"""The texts of an order's papers for the client: in its language, with its noun for the pieces."""

from __future__ import annotations

from pipeline.core.catalogue.proof_kinds import LANGUAGE_UNREAD
from pipeline.core.config.order import Order
from pipeline.core.findings import Finding, build_finding
from pipeline.core.language.texts import Texts, load_texts


def load_client_texts(order: Order, file: str = "") -> Texts:
    """The texts. file: of the order, for the CannotRun when there is no catalogue of its language."""
    noun = order.proof.noun
    texts = load_texts(order.proof.language, f"{file}: [proof] language" if file else "[proof] language")
    return texts.rename_pieces(noun.one, noun.many) if noun else texts


def check_language(order: Order) -> tuple[Finding, ...]:
    """Return what the maker has to know about the language of the order's proof."""
    texts = load_client_texts(order)
    if not texts.unread:
        return ()
    named = texts.locale.get_display_name("en") or texts.language
    return (build_finding(LANGUAGE_UNREAD, facts={"language": named, "count": texts.unread}),)
