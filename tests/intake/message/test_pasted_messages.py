"""Lists pasted from messages, in several languages and styles: every line is a plaque, or left out and reported.
Invented names; the styles are those of ordinary letters, common practice, no source."""

from dataclasses import dataclass, field

import pytest

from pipeline.commands.start_command import start
from pipeline.core.findings import Severity
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list


@dataclass(frozen=True)
class Mail:
    text: str
    names: dict[str, int]  # as they are cut -> pieces
    asked: tuple[str, ...] = ()  # what a person has to be asked: each is in some question
    left: tuple[str, ...] = ()  # lines that aren't plaques, reported as left out
    ending: str = ".txt"
    extra: frozenset[str] = field(default=frozenset())  # lines that become a plaque with a question


def all_one(*names: str) -> dict[str, int]:
    return dict.fromkeys(names, 1)


MAILS = {
    "a question below the names": Mail(
        "Ann Tillerby\nBert Ockham\nCleo Dunnock\n\nCould you have them by Friday?\nThanks\nJoan\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        asked=("a sentence",),
        left=("Thanks", "Joan"),
        extra=frozenset({"Could you have them by Friday?"}),
    ),
    "numbered, with copies and a remark": Mail(
        "Please engrave:\n\n1. Ann Tillerby x2\n2. Bert Ockham (silver)\n3. Cleo Dunnock\n4. Dai Fenwick\n"
        "5. Edda Rooksby\n6. Finn Marram\n\nThanks, Joan\n",
        {"Ann Tillerby": 2} | all_one(
            "Bert Ockham (silver)", "Cleo Dunnock", "Dai Fenwick", "Edda Rooksby", "Finn Marram"
        ),
        asked=("(silver)",),
        left=("Please engrave:", "Thanks, Joan"),
    ),
    "a total in words": Mail(
        "Ann Tillerby x2\nBert Ockham\nCleo Dunnock\n\nTotal: 5 plaques\n",
        {"Ann Tillerby": 2, "Bert Ockham": 1, "Cleo Dunnock": 1},
        asked=("4 5",),  # what the names add up to, what it states
        left=("Total: 5 plaques",),
    ),
    "a total in figures": Mail(
        "Ann Tillerby\nBert Ockham\nCleo Dunnock\n\nTotal: 4\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        asked=("3 4",),
        left=("Total: 4",),
    ),
    "plain lines and a signature": Mail(
        "Hi Wanda,\n\nAnn Tillerby\nBert Ockham\nCleo Dunnock\n\nKind regards\nJoan Pettifer\n"
        "Secretary, Skerry Bowls Club\n"
        "+44 20 7946 0000\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        asked=("Joan Pettifer",),
        left=("Hi Wanda,", "Kind regards", "+44 20 7946 0000"),
    ),
    "the letter first, the list below it": Mail(
        "Hello, the list for the shield is below. Thanks, Joan\n\nAnn Tillerby\nBert Ockham\n"
        "Cleo Dunnock\nDai Fenwick\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock", "Dai Fenwick"),
        left=("Hello, the list for the shield is below. Thanks, Joan",),
    ),
    "a closing, a name and then the list": Mail(
        "Thanks,\nJoan\n\nAnn Tillerby\nBert Ockham\nCleo Dunnock\nDai Fenwick\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock", "Dai Fenwick"),
        asked=("Joan",),
        left=("Thanks,",),
    ),
    "bullets and tabs": Mail(
        "For the boathouse:\n•\tAnn Tillerby\n•\tBert Ockham × 3\n•\tCleo Dunnock\n\n-- \nJoan Pettifer\n"
        "joan@skerry.example\n",
        all_one("Ann Tillerby", "Cleo Dunnock") | {"Bert Ockham": 3},
        asked=("Joan Pettifer",),
        left=("For the boathouse:", "--", "joan@skerry.example"),
    ),
    "German, with dashes and Stück": Mail(
        "Sehr geehrte Damen und Herren,\n\nbitte gravieren Sie folgende Namen:\n\n- Jörg Möwe\n"
        "- Änne Kranich (2 Stück)\n"
        "- Ulf Seeschwalbe\n\nMit freundlichen Grüßen\nGerda Austernfischer\nTel. 030 000000\n",
        all_one("Jörg Möwe", "Ulf Seeschwalbe") | {"Änne Kranich": 2},
        asked=("Gerda Austernfischer",),
        left=("Sehr geehrte Damen und Herren,", "bitte gravieren Sie folgende Namen:", "Mit freundlichen Grüßen"),
    ),
    "French, lettered": Mail(
        "Bonjour,\nVoici les noms à graver :\na) Zoé Macareux\nb) Aël Guillemot x 2\nc) Noémie Sterne\n"
        "Merci beaucoup !\n"
        "Maëlle Cormoran\n",
        all_one("Zoé Macareux", "Noémie Sterne") | {"Aël Guillemot": 2},
        asked=("Maëlle Cormoran",),
        left=("Bonjour,", "Voici les noms à graver :", "Merci beaucoup !"),
    ),
    "Spanish, copies in front": Mail(
        "Hola:\n2x Íñigo Gaviota\nLucía Garza\n3 x Begoña Frailecillo\nUn saludo,\nMarta\n",
        {"Íñigo Gaviota": 2, "Lucía Garza": 1, "Begoña Frailecillo": 3},
        asked=("Marta",),
        left=("Hola:", "Un saludo,"),
    ),
    "quoted in a reply": Mail(
        "> Please engrave:\n>\n> 1) Ann Tillerby\n> 2) Bert Ockham\n> 3) Cleo Dunnock\n>\n> Best wishes,\n> Joan\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        asked=("Joan",),
        left=("Please engrave:", "Best wishes,"),
    ),
    "a reply over the earlier message": Mail(
        "Ann Tillerby\nBert Ockham\nCleo Dunnock\nDai Fenwick\n\nOn 3 Nov 2026, Wanda wrote:\n"
        "> Could you send the names?\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock", "Dai Fenwick"),
        left=("On 3 Nov 2026, Wanda wrote:",),
        extra=frozenset({"Could you send the names?"}),
    ),
    "a bare number in brackets": Mail(
        "Ann Tillerby (2)\nBert Ockham\nCleo Dunnock - 3\n",
        {"Ann Tillerby": 2, "Bert Ockham": 1, "Cleo Dunnock": 3},
        asked=("(2)", "- 3"),
    ),
    "a greeting without a comma": Mail(
        "Dear Guillemot\n\nAnn Tillerby\nBert Ockham\nCleo Dunnock\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        left=("Dear Guillemot",),
    ),
    "another, and no blank line": Mail(
        "Hello Wanda\nAnn Tillerby\nBert Ockham\nCara Dunnock\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cara Dunnock"),
        left=("Hello Wanda",),
    ),
    "names in a sentence": Mail(
        "Please engrave Ann Tillerby, Bert Ockham and Cleo Dunnock.\nThank you\n",
        {},
        asked=("Ann Tillerby",),
        left=("Thank you",),
        extra=frozenset({"Please engrave Ann Tillerby, Bert Ockham and Cleo Dunnock."}),
    ),
    "names joined by commas and by “and”": Mail(
        "Ann Tillerby, Bert Ockham, Cleo Dunnock\nDai Fenwick and Edda Rooksby\nFinn Marram\n",
        all_one("Finn Marram", "Dai Fenwick and Edda Rooksby"),
        asked=("Ann Tillerby, Bert Ockham, Cleo Dunnock",),
        extra=frozenset({"Ann Tillerby, Bert Ockham, Cleo Dunnock"}),
    ),
    "with a head and a subject": Mail(
        "From: Joan Pettifer\nTo: Wanda\nSubject: Regatta shields\n\nDear Wanda\n\n1. Ann Tillerby\n2. Bert Ockham\n"
        "3. Cleo Dunnock\n\nCheers\nJ\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock"),
        left=("From: Joan Pettifer", "Subject: Regatta shields", "Dear Wanda", "Cheers"),
        asked=("J",),
    ),
    "a heading, Italian": Mail(
        "Nome\nDott.ssa Ilaria Gabbiano\nTeo Airone x2\nGrazie Sterna\nGrazie mille,\nLia\n",
        {"Dott.ssa Ilaria Gabbiano": 1, "Teo Airone": 2, "Grazie Sterna": 1},
        left=("Grazie mille,",),
        asked=("Lia",),
    ),
    "added after the letter": Mail(
        "Names as agreed:\n1. Ann Tillerby\n2. Bert Ockham\n3. Cleo Dunnock\n\nRegards, Joan\n\n4. Dai Fenwick\n",
        all_one("Ann Tillerby", "Bert Ockham", "Cleo Dunnock", "Dai Fenwick"),
        left=("Names as agreed:", "Regards, Joan"),
    ),
    "Hebrew and Japanese": Mail(
        "שלום כהן\n山田 太郎\nרות לוי x2\n",
        {"שלום כהן": 1, "山田 太郎": 1, "רות לוי": 2},
    ),
    "names that are words of letters": Mail(
        "Cara Wren\nMercy Best\nHope Thanks\nVan Beste\nRegina Gruss\n",
        all_one("Cara Wren", "Mercy Best", "Hope Thanks", "Van Beste", "Regina Gruss"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("habit", MAILS)
def test_every_line_is_a_plaque_or_reported_as_left_out(tmp_path, habit):
    mail = MAILS[habit]
    path = tmp_path / f"mail{mail.ending}"
    path.write_text(mail.text, encoding="utf-8")
    start(path, folder=tmp_path / "order", say=lambda text: None)
    read = read_list(read_order(tmp_path / "order"))

    plaques = {r.get_value("name"): r for r in read.recipients}
    extra = {name for name in plaques if name in mail.extra}
    assert {name: plaques[name].copies for name in plaques if name not in extra} == mail.names
    assert extra == mail.extra
    for name in extra:
        assert any(f.severity is Severity.ASK for f in plaques[name].findings), f"“{name}” is asked about"

    findings = [*read.findings, *(f for r in read.recipients for f in r.findings)]
    said = [" ".join(str(value) for _, value in f.facts) for f in findings]
    asked = [text for text, f in zip(said, findings, strict=True) if f.severity is Severity.ASK]
    for words in mail.asked:
        assert any(words in text for text in asked), f"“{words}” is asked about"
    header = mail.text.splitlines()[read.header_row - 1] if read.header_row else ""
    for line in mail.left:
        assert line == header or any(line in text for text in said), f"“{line}” is told"

    lines = {n for n, line in enumerate(mail.text.splitlines(), 1) if line.strip()}
    account = {a.row: a.fate for a in read.account}
    assert account.keys() == lines
    told = {f.row for f in findings} | {read.header_row}
    assert {row for row, fate in account.items() if fate == "left-out"} <= told
    for r in read.recipients:  # the plaque has the line, or a finding of the row reports what was removed
        line = mail.text.splitlines()[r.row - 1].strip()
        changed = line != r.get_value("name")
        told_of = {f.code for f in (*r.findings, *read.findings)}
        assert not changed or told_of & {"list.taken-off", "list.numbers-apart"}


def test_a_guess_stays_a_question_until_it_is_answered(tmp_path):
    path = tmp_path / "mail.txt"
    path.write_text(MAILS["plain lines and a signature"].text, encoding="utf-8")
    start(path, folder=tmp_path / "order", say=lambda text: None)
    order = tmp_path / "order" / "order.toml"
    codes = [f.code for f in read_list(read_order(order)).findings]
    assert codes.count("list.guessed") == 1
    order.write_text(order.read_text("utf-8").replace("guessed = true", "guessed = false"), encoding="utf-8")
    assert "list.guessed" not in [f.code for f in read_list(read_order(order)).findings]


def test_a_certain_result_is_not_marked_as_a_guess(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text("Name,Post\nAnn Tillerby,Clerk\nBert Ockham,Warden\n", encoding="utf-8")
    start(path, folder=tmp_path / "order", say=lambda text: None)
    assert "guessed" not in (tmp_path / "order" / "order.toml").read_text("utf-8")
    assert "list.guessed" not in [f.code for f in read_list(read_order(tmp_path / "order")).findings]


@pytest.mark.parametrize("columns", ["", 'header = 4\ncolumns = { name = "Cleo Dunnock" }\nguessed = true\n'])
def test_names_over_a_guessed_header_are_asked_about(tmp_path, columns):
    """The order as an earlier version wrote it for the first of these messages, now marked as a guess."""
    lines = ("Please engrave", "Ann Tillerby", "Bert Ockham", "Cleo Dunnock", "Dai Fenwick")
    (tmp_path / "list.csv").write_text("\n".join(lines), encoding="utf-8")
    (tmp_path / "order.toml").write_text(
        f'title = "Shields"\n[list]\nfile = "list.csv"\n{columns}[blank]\nshape = "disc"\ndiameter = 80.0\n'
        '[[line]]\ntext = "{name}"\nface = "noto-sans"\ncap_height = 6.0\n',
        encoding="utf-8",
    )
    read = read_list(read_order(tmp_path))
    names = {r.get_value("name") for r in read.recipients}
    rows = {"Ann Tillerby": 2, "Bert Ockham": 3, "Cleo Dunnock": 4, "Dai Fenwick": 5}
    findings = [*read.findings, *(f for r in read.recipients for f in r.findings)]
    asked = {f.row for f in findings if f.severity is Severity.ASK}
    assert all(name in names or row in asked for name, row in rows.items())
    assert bool(columns) == (names == {"Dai Fenwick"})
