"""Messages as clients write them, in the eight languages of the proof: plain ones are read, no other one approves.

`python -m tests.long.messages [COUNT SEED]` generates 300, prints what was read and every message that was read
differently from its meaning; the suite tries a sample. What clients write is common practice, no source; the phrases
of languages other than English are from memory and no native speaker has read them.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import dataclass, field

from pipeline.signoff.messages.message_grammar import MessageReading, read_message

SHOWN = {
    1: ("Ida Vex", "Warden 1998"), 2: ("Bo Skua",), 3: ("Una Tern",), 7: ("Kerekhegyi Ilona",), 8: ("Odd Marram",),
    12: ("Élodie Bråvensby",), 14: ("Tom Knot", "Cox"), 21: ("Ada Alderwick",),
}  # fmt: skip
NAMES = ("Anna Dunlin", "Marek Brzegowy")
WORDINGS = ("Kerekhegyi", "Kerekhegyi Ilóna", "Ilona Kerekhegyi", "“Kerekhegyi, Ilona”")


@dataclass(frozen=True, kw_only=True)
class Habits:
    """How people of one language write; deliberately independent of the grammar's own phrases."""

    agree: tuple[str, ...]
    some: tuple[str, ...]  # {a}, {b}: numbers that are wrong
    leave: tuple[str, ...]
    hello: tuple[str, ...]
    thanks: tuple[str, ...]
    bye: tuple[str, ...]
    phone: str
    wrote: str
    original: tuple[str, str, str, str]
    other: tuple[str, ...]  # no approval, whatever it looks like


HABITS = {
    "en": Habits(
        agree=("All correct", "everything is fine", "All good", "approved", "All names are correct"),
        some=(
            "all fine except {a} and {b}",
            "All correct, except for {a}, {b}",
            "Everything is correct apart from {a} & {b}",
        ),
        leave=("{a} do not cut", "Do not cut {a}", "{a}: do not cut", "please leave out {a}"),
        hello=("Hi Jo,", "Dear Sir or Madam,", "Good morning", "hello"),
        thanks=("Thanks", "thank you very much!", "Many thansk", "Thanks for the prooof"),
        bye=("Kind regards", "Best wishes,", "kind regrads", "Cheers"),
        phone="Sent from my phone",
        wrote="On 12 Nov 2026 at 10:12, Jo Sanderling <jo@example.org> wrote:",
        original=("Original Message", "From", "Sent", "To"),
        other=(
            "not all correct",
            "all correct I think",
            "all correct but 7 has a y",
            "all correct if 7 has a y",
            "will check",
            "I hope all correct",
            "nothing is correct",
            "Is it all correct",
            "all correct?!",
            "all correct except the last one",
            "all correct, wait until Friday",
            "almost all correct",
            "all correct apart from the border",
            "no, all wrong",
            "all correct otherwise I would have said",
            "all correct so far",
            "I can't say all correct",
            "correct",
        ),
    ),
    "de": Habits(
        agree=("Alles richtig", "alles in ordnung", "Passt alles", "Alles korrekt", "freigegeben"),
        some=("alles richtig außer {a} und {b}", "Alles in Ordnung bis auf {a}, {b}"),
        leave=("{a} nicht schneiden", "Bitte nicht schneiden: {a}", "{a}: bitte weglassen"),
        hello=("Hallo Jo,", "Sehr geehrte Damen und Herren,", "guten morgen", "Liebe Frau Sanderling,"),
        thanks=("Danke", "vielen Dank!", "Vielen Dnak", "Danke schön"),
        bye=("Viele Grüße", "Mit freundlichen Grüßen", "mit freundlichen grüssen", "LG"),
        phone="Von meinem Telefon gesendet",
        wrote="Am 12.11.2026 um 10:12 schrieb Jo Sanderling <jo@example.org>:",
        original=("Ursprüngliche Nachricht", "Von", "Gesendet", "An"),
        other=(
            "nicht alles richtig",
            "alles richtig, glaube ich",
            "alles richtig, aber 7 mit y",
            "alles richtig wenn 7 stimmt",
            "wird geprüft",
            "ist alles richtig",
            "stimmt nicht",
            "alles richtig außer der letzten",
            "fast alles richtig",
            "bitte noch warten, alles richtig",
            "alles falsch",
            "noch nicht freigegeben",
        ),
    ),
    "fr": Habits(
        agree=("Tout est correct", "tout est bon", "Bon pour accord", "Tout est en ordre"),
        some=("tout est correct sauf {a} et {b}", "Tout est bon, sauf {a}, {b}", "tout est correct à part {a} et {b}"),
        leave=("{a} ne pas couper", "Ne pas graver {a}", "{a} : à supprimer"),
        hello=("Bonjour Jo,", "Bonjour", "Madame, Monsieur,", "bonsoir"),
        thanks=("Merci", "merci beaucoup !", "Merci beacoup", "Merci d’avance"),
        bye=("Cordialement", "Bien à vous,", "cordialemnt", "Bonne journée"),
        phone="Envoyé de mon téléphone",
        wrote="Le 12 nov. 2026 à 10:12, Jo Sanderling <jo@example.org> a écrit :",
        original=("Message d'origine", "De", "Envoyé", "À"),
        other=(
            "tout n'est pas correct",
            "tout est correct je crois",
            "tout est correct mais 7 avec y",
            "pas tout est correct",
            "je vais vérifier",
            "est-ce que tout est correct",
            "tout est correct si 7 change",
            "presque tout est correct",
            "tout est correct sauf le dernier",
            "bon pour accord sous réserve",
            "rien n'est correct",
        ),
    ),
    "es": Habits(
        agree=("Todo correcto", "todo está bien", "Todo en orden", "Aprobado"),
        some=("todo correcto excepto {a} y {b}", "Todo está bien, salvo {a}, {b}", "todo bien menos {a} y {b}"),
        leave=("{a} no cortar", "No cortar {a}", "{a}: no grabar"),
        hello=("Hola Jo,", "Buenos días", "hola", "Estimada Jo,"),
        thanks=("Gracias", "¡Muchas gracias!", "muchas graicas", "Mil gracias"),
        bye=("Saludos", "Un saludo,", "saludos cordiales", "Atentamente"),
        phone="Enviado desde mi teléfono",
        wrote="El 12 nov 2026 a las 10:12, Jo Sanderling <jo@example.org> escribió:",
        original=("Mensaje original", "De", "Enviado", "Para"),
        other=(
            "no todo correcto",
            "todo correcto creo",
            "todo correcto pero 7 con y",
            "todo correcto si cambia 7",
            "voy a revisar",
            "¿todo correcto?",
            "casi todo correcto",
            "todo correcto excepto el último",
            "todo mal",
            "aún no aprobado",
            "nada está bien",
        ),
    ),
    "it": Habits(
        agree=("Tutto corretto", "va tutto bene", "Tutto a posto", "Approvato"),
        some=("tutto corretto tranne {a} e {b}", "Tutto bene, eccetto {a}, {b}", "tutto ok a parte {a} e {b}"),
        leave=("{a} non tagliare", "Non incidere {a}", "{a}: da eliminare"),
        hello=("Ciao Jo,", "Buongiorno", "Gentile Jo,", "salve"),
        thanks=("Grazie", "grazie mille!", "Grazei mille", "Molte grazie"),
        bye=("Cordiali saluti", "Saluti,", "cordiali salutti", "A presto"),
        phone="Inviato dal mio telefono",
        wrote="Il giorno 12 nov 2026 alle 10:12 Jo Sanderling <jo@example.org> ha scritto:",
        original=("Messaggio originale", "Da", "Inviato", "A"),
        other=(
            "non tutto corretto",
            "tutto corretto credo",
            "tutto corretto ma 7 con y",
            "tutto corretto se cambia 7",
            "controllo dopo",
            "è tutto corretto?",
            "quasi tutto corretto",
            "tutto corretto tranne l'ultimo",
            "tutto sbagliato",
            "non approvato",
            "niente va bene",
        ),
    ),
    "nl": Habits(
        agree=("Alles klopt", "alles is goed", "Akkoord", "Alles in orde"),
        some=("alles klopt behalve {a} en {b}", "Alles is goed, behalve {a}, {b}"),
        leave=("{a} niet snijden", "Niet maken: {a}", "{a}: graag weglaten"),
        hello=("Hallo Jo,", "Goedemorgen", "Beste Jo,", "hoi"),
        thanks=("Bedankt", "hartelijk dank!", "Alvast bedankkt", "Dank u wel"),
        bye=("Met vriendelijke groet", "Groeten,", "met vriendelijke groten", "mvg"),
        phone="Verzonden vanaf mijn telefoon",
        wrote="Op 12 nov. 2026 om 10:12 schreef Jo Sanderling <jo@example.org>:",
        original=("Oorspronkelijk bericht", "Van", "Verzonden", "Aan"),
        other=(
            "niet alles klopt",
            "alles klopt denk ik",
            "alles klopt maar 7 met y",
            "alles klopt als 7 wijzigt",
            "ik controleer het nog",
            "klopt alles wel",
            "bijna alles klopt",
            "alles klopt behalve de laatste",
            "alles fout",
            "niet akkoord",
            "nog niet akkoord",
        ),
    ),
    "pl": Habits(
        agree=("Wszystko się zgadza", "wszystko jest poprawne", "Akceptuję", "Wszystko w porządku"),
        some=("wszystko się zgadza oprócz {a} i {b}", "Wszystko w porządku, poza {a}, {b}"),
        leave=("{a} nie wycinać", "Nie ciąć {a}", "{a}: proszę pominąć"),
        hello=("Dzień dobry", "Cześć Jo,", "Szanowni Państwo,", "witam"),
        thanks=("Dziękuję", "bardzo dziękuję!", "Dziekuję", "Dzięki"),
        bye=("Pozdrawiam", "Z poważaniem,", "pozdrawaim", "Serdecznie pozdrawiam"),
        phone="Wysłane z mojego telefonu",
        wrote="12 lis 2026 o 10:12 Jo Sanderling <jo@example.org> napisał(a):",
        original=("Wiadomość oryginalna", "Od", "Wysłano", "Do"),
        other=(
            "nie wszystko się zgadza",
            "chyba wszystko się zgadza",
            "wszystko się zgadza, ale 7 przez y",
            "wszystko się zgadza jeśli 7 się zmieni",
            "sprawdzę",
            "czy wszystko się zgadza",
            "prawie wszystko się zgadza",
            "wszystko źle",
            "nie akceptuję",
            "jeszcze nie akceptuję",
            "wszystko się zgadza oprócz ostatniego",
        ),
    ),
    "cy": Habits(
        agree=("Popeth yn gywir", "mae popeth yn iawn", "Mae popeth yn gywir", "popeth yn iawn"),
        some=("popeth yn gywir heblaw {a} a {b}", "Mae popeth yn iawn, ac eithrio {a}, {b}"),
        leave=("Peidiwch â thorri {a}", "{a}: dim torri"),
        hello=("Helo Jo,", "Bore da", "Annwyl Jo,", "shwmae"),
        thanks=("Diolch", "diolch yn fawr!", "Diolch yn fwr", "Llawer o ddiolch"),
        bye=("Cofion gorau", "Hwyl,", "cofion gorau", "Dymuniadau gorau"),
        phone="Anfonwyd o fy ffôn",
        wrote="Ar 12 Tach 2026 am 10:12 ysgrifennodd Jo Sanderling <jo@example.org>:",
        original=("Neges wreiddiol", "Oddi wrth", "Anfonwyd", "At"),
        other=(
            "nid yw popeth yn gywir",
            "popeth yn gywir dwi'n meddwl",
            "popeth yn gywir ond 7 gydag y",
            "popeth yn gywir os yw 7 yn newid",
            "byddaf yn gwirio",
            "ydy popeth yn gywir",
            "bron popeth yn gywir",
            "popeth yn anghywir",
            "dim yn gywir",
            "dydy popeth ddim yn iawn",
        ),
    ),
}


@dataclass(frozen=True, kw_only=True)
class Message:
    """One message with its meaning. agreed: the numbers it certainly approves."""

    language: str
    kind: str  # plain, or what is dangerous about it
    text: str
    agreed: frozenset[int]
    changes: dict[int, str] = field(default_factory=dict)
    left: frozenset[int] = frozenset()


def make_message(rng: random.Random, *, plain: bool) -> Message:
    """Generate one message."""
    language = rng.choice(sorted(HABITS))
    habits = HABITS[language]
    if not plain:
        kind, body = _dangerous(rng, habits)
        return Message(language=language, kind=kind, text=_dressed(rng, habits, body), agreed=frozenset())
    a, b = rng.sample(sorted(set(SHOWN) - {7}), 2)
    kind = rng.choice(("all", "all", "some", "change", "leave", "all three"))
    every = frozenset(SHOWN)
    wording = rng.choice(WORDINGS)
    change = rng.choice((f"7: {wording}", f"No. 7: {wording}", f"7 - {wording}", f"7:{wording}"))
    wanted = {7: wording.strip("“”")}
    leave = rng.choice(habits.leave).format(a=a)
    some = rng.choice(habits.some)
    body, agreed, changes, left = {
        "all": ([rng.choice(habits.agree)], every, {}, frozenset()),
        "some": ([some.format(a=a, b=b)], every - {a, b}, {}, frozenset()),
        "change": ([change], frozenset(), wanted, frozenset()),
        "leave": ([leave], frozenset(), {}, frozenset((a,))),
        "all three": ([some.format(a=a, b=7), change, leave], every - {a, 7}, wanted, frozenset((a,))),
    }[kind]
    text = _dressed(rng, habits, [_worn(rng, line) if "7" not in line else line for line in body])
    return Message(language=language, kind="plain", text=text, agreed=agreed, changes=changes, left=left)


def _worn(rng: random.Random, line: str) -> str:
    return rng.choice((line, line, line.lower(), line.upper() if line.isascii() else line, line + ".", line + "!"))


def _dressed(rng: random.Random, habits: Habits, body: list[str]) -> str:
    lines = list(body)
    gap = rng.choice(([""], []))
    if rng.random() < 0.6:
        lines = [rng.choice(habits.hello), *gap, *lines]
    if rng.random() < 0.5:
        lines += [*gap, rng.choice(habits.thanks)]
    if rng.random() < 0.6:
        name = rng.choice(("Anna", "Anna Dunlin", "anna", "Marek Brzegowy"))
        lines += ["", rng.choice(habits.bye), name]
    if rng.random() < 0.2:
        lines += ["", habits.phone]
    elif rng.random() < 0.2:
        lines += ["-- ", "Saltmarsh Rowers", "The Boathouse 12, tel. 01632 960 123"]
    quoted = rng.random()
    if quoted < 0.25:
        lines += ["", habits.wrote, "> " + rng.choice(habits.agree), ">", "> 3: not this?"]
    elif quoted < 0.4:
        title, *heads = habits.original
        lines += ["", f"-----{title}-----", *(f"{h}: jo@example.org" for h in heads), "", rng.choice(habits.agree)]
    return "\n".join(lines) + rng.choice(("", "\n", "\n\n"))


def _dangerous(rng: random.Random, habits: Habits) -> tuple[str, list[str]]:
    agree = rng.choice(habits.agree)
    kind = rng.choice(
        (
            "other",
            "other",
            "other",
            "question",
            "more",
            "two",
            "absent",
            "quoted",
            "turned",
            "long",
            "wording",
            "inside",
            "below",
            "against",
        )
    )
    return kind, {
        "other": [rng.choice(habits.other)],
        "question": [agree + rng.choice(("?", " ?", "???", "\uff1f"))],
        "more": rng.sample([agree, rng.choice(habits.other)], 2),
        "two": [agree, "7: Kerekhegyi", "7: Kerekhegy"],
        "absent": [agree, "99: Kerekhegyi"] if rng.random() < 0.5 else [habits.some[0].format(a=1, b=99)],
        "quoted": [habits.wrote, "> " + agree] if rng.random() < 0.5 else ["> " + agree, ">"],
        "turned": [f"{agree}\u202e ton"] if rng.random() < 0.5 else [f"{agree}\u200b"],
        "long": [agree, *("7 " + "so " * 50 for _ in range(60))],
        "wording": [habits.some[0].format(a=7, b=8), f"7: Kerekhegyi. {rng.choice(habits.other)}"],
        "inside": [agree, "> Is 7 right?", rng.choice(habits.other), "> and 8?", "fine"],
        "below": [agree, "-- ", "Anna", "PS: " + rng.choice(habits.other)],
        "against": [agree, rng.choice(habits.leave).format(a=8)],
    }[kind]


def agreed_in(reading: MessageReading) -> frozenset[int]:
    """Return the numbers that a reading approves."""
    rest = frozenset(SHOWN) - reading.numbers.keys() if reading.all else frozenset()
    return rest | {n for n, said in reading.numbers.items() if said == "agreed"}


def is_read(message: Message, reading: MessageReading) -> bool:
    """Return whether a plain message was read as meant."""
    left = {n for n, said in reading.numbers.items() if said == "refused"}
    wanted = {n: text.strip("“”") for n, text in reading.wanted.items()}
    return (
        not reading.why and agreed_in(reading) == message.agreed and wanted == message.changes and left == message.left
    )


def try_messages(count: int, seed: int = 1) -> tuple[Counter[str], list[str]]:
    """Read that many messages, half of them plain. Return counts, and everything that was read differently from its
    meaning."""
    rng = random.Random(seed)
    counts: Counter[str] = Counter()
    told = []
    for number in range(count):
        message = make_message(rng, plain=number % 2 == 0)
        reading = read_message(message.text, SHOWN, NAMES)
        kind = "plain" if message.kind == "plain" else "dangerous"
        counts[kind] += 1
        if agreed_in(reading) - message.agreed:
            counts["wrongly agreed"] += 1
            told.append(f"AGREED {message.language} {message.kind}: {message.text!r}: {reading}")
        elif kind == "plain" and is_read(message, reading):
            counts["plain read"] += 1
        elif kind == "plain":
            told.append(f"{message.language} {message.kind}: {message.text!r}: {reading}")
    return counts, told


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    found, lines = try_messages(given[0] if given else 300, given[1] if len(given) > 1 else 1)
    print(*lines, dict(found), sep="\n")
    sys.exit(1 if found["wrongly agreed"] or found["plain read"] < 0.9 * found["plain"] else 0)
