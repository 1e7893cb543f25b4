"""The texts of an order's papers for the client: in its language, with its noun for the pieces."""

from __future__ import annotations

from pipeline.core.order import Order
from pipeline.core.texts import Texts, texts_in


def texts_for_client(order: Order, file: str = "") -> Texts:
    """The texts. file: of the order, for the CannotRun when there is no catalogue of its language."""
    noun = order.proof.noun
    texts = texts_in(order.proof.language, f"{file}: [proof] language" if file else "[proof] language")
    return texts.naming(noun.one, noun.many) if noun else texts
