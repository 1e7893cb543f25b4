"""Texts for clients: every id has its message in every catalogue, every message can be rendered, and none is in
code."""

from __future__ import annotations

import ast
import re
import string
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from babel import Locale
from babel.messages import Catalog

from pipeline.core.catalogue import KINDS, build_client_id, format_for_client
from pipeline.core.catalogue import format_message as for_maker
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.catalogue.fit_kinds import TOO_LONG
from pipeline.core.catalogue.ways import ROWS, TIGHTER
from pipeline.core.errors import CannotRun
from pipeline.core.findings import build_finding, build_way
from pipeline.core.language.client_phrases import PHRASES
from pipeline.core.language.client_texts import check_language
from pipeline.core.language.texts import (
    ENGLISH,
    FOLDER,
    PHRASE,
    Texts,
    choose_language,
    list_languages,
    load_texts,
    read_catalogue,
)
from pipeline.core.units import SpokenUnits, Units
from pipeline.intake.names.name_questions import TextPlace, question_text
from tests import builders
from tests.languages import pseudo_catalogue, texts_of
from tests.new_language import main as write_new_language
from tests.new_language import needed

PACKAGE = Path(__file__).parents[3] / "pipeline"
ID = re.compile(r"(?:choices|(?:proof|sheet|answered|choices)(?:\.[a-z]+(?:-[a-z]+)*)+)")
NO_IDS = {"proof.pdf", "proof.json", "proof.language-unread"}
"""Names of files and a code, which look like ids."""


def constants(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


def ids_used() -> set[str]:
    said = {text for path in PACKAGE.rglob("*.py") for text in constants(path)}
    return {text for text in said if ID.fullmatch(text)} - NO_IDS


def forms(message: str | tuple[str, ...]) -> tuple[str, ...]:
    return (message,) if isinstance(message, str) else tuple(message)


def facts_of(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name is not None}


SAME = {
    "cy": {"proof.stopped.where", "sheet.check.cell"},
    "fr": {"proof.page", "proof.noun.one", "proof.noun.many", "proof.sign.date", "sheet.sign.on"}
    | {"sheet.check.codes", "sheet.state.ask", "sheet.sign.client"},
    "nl": {"sheet.check.codes"},
}
"""Messages that a language has as English has them."""


def _has_words(text: str) -> bool:
    return bool(re.search(r"[^\W\d_]{3}", re.sub(r"\{[^}]*\}", "", text)))


def faults_of(catalogue: Catalog, wanted: dict[str, tuple[str, ...]]) -> list[str]:
    """Return what is wrong with a catalogue of another language, one line each."""
    messages = {forms(m.id)[0]: m for m in catalogue if m.id and m.context is None}
    same = {template for id in SAME.get(str(catalogue.locale), ()) for template in wanted.get(id, ())}
    out = [f"{id} is missing" for id in wanted if id not in messages]
    for id, message in messages.items():
        if id not in wanted:
            out.append(f"{id} is used nowhere")
            continue
        allowed = set().union(*map(facts_of, wanted[id])) | ({"n"} if len(wanted[id]) > 1 else set())
        for text in forms(message.string):
            if not text.strip() or (text in wanted[id] and text not in same and _has_words(text)):
                out.append(f"{id} is not translated")
            elif unknown := facts_of(text) - allowed:
                out.append(f"{id} names {', '.join(sorted(unknown))}, which it is not given")
            elif max(map(len, wanted[id])) * 2 + 40 < len(text):
                out.append(f"{id} is overlong")
        if len(forms(message.string)) != (catalogue.num_plurals if len(wanted[id]) > 1 else 1):
            out.append(f"{id} has not as many forms as the language")
    return out


def test_every_id_in_the_code_has_a_message_and_every_message_an_id_in_the_code():
    english = {forms(m.id)[0] for m in read_catalogue(FOLDER / "en.po") if m.id}
    assert ids_used() == english


def test_every_catalogue_has_every_message(tmp_path):
    wanted = needed()
    for language in list_languages():
        if language != ENGLISH:
            assert faults_of(read_catalogue(FOLDER / f"{language}.po"), wanted) == [], language
    assert faults_of(pseudo_catalogue(), wanted) == []
    broken = pseudo_catalogue()
    broken.delete("proof.cover.look")
    broken.add("proof.cover.lok", "typo")
    broken["proof.volume"].string = "tome {nombre}"
    broken["finding.text.symbol"].string = " "
    broken["proof.pieces"].string = ("{n} piéce", "{n} piéces", "{n} piécés")
    assert faults_of(broken, wanted) == [
        "proof.cover.look is missing",
        "proof.volume names nombre, which it is not given",
        "proof.pieces has not as many forms as the language",
        "finding.text.symbol is not translated",
        "proof.cover.lok is used nowhere",
    ]


@pytest.mark.parametrize("language", list_languages())
def test_the_rule_of_plurals_is_that_of_unicode(language):
    """CLDR's plural rules, as Babel includes them: numbers of one category have one form, those of two have two."""
    catalogue, rule = read_catalogue(FOLDER / f"{language}.po"), Locale.parse(language).plural_form
    form = {n: load_texts(language).choose_form(n) for n in range(201)}
    pairs = {(rule(n), form[n]) for n in form}
    assert len(pairs) == len({category for category, _ in pairs}) == len({n for _, n in pairs})
    assert catalogue.num_plurals >= len(pairs)


@pytest.mark.parametrize(
    "texts", [*map(load_texts, list_languages()), texts_of(pseudo_catalogue())], ids=[*list_languages(), "pseudo"]
)
def test_every_message_can_be_shown(texts):
    for id, english in needed().items():
        if id.startswith(("finding.", "way.", "choice.", "measured.")):
            continue  # rendered below, and in the tests of the check sheet
        names = set().union(*map(facts_of, english)) - ({"n"} if len(english) > 1 else set())
        facts = {name: 62.5 if name in ("percent", "times") else f"<{name}>" for name in names - {"one", "many"}}
        for n in (0, 1, 2, 5, 22):
            shown = texts.render_plural(id, n, **facts) if len(english) > 1 else texts.render_text(id, **facts)
            assert shown.strip() and "{" not in shown and "}" not in shown, id
            assert set(re.findall("<([a-z]+)>", shown)) == names - {"percent", "times", "one", "many"}, id
            assert max(map(len, english)) * 2 + 40 >= len(shown), id


class Fact(float):
    """A fact of a finding that can be rendered as a text, as a number or as a length."""

    def __format__(self, spec: str) -> str:
        return super().__format__(spec) if spec else "<fact>"


@pytest.mark.parametrize("kind", [kind for kind in KINDS.values() if kind.client], ids=lambda kind: kind.code)
def test_findings_for_clients_come_from_the_catalogue_of_their_language(kind):
    own = {"row", "cell", "glyph", "measured", "limit"}
    facts = {name: Fact(7.25) for name in facts_of(kind.client) - own}
    finding = build_finding(kind, facts=facts, row=5, cell="B5", glyph="e", measured=0.1, limit=0.25, unit="mm")
    other = texts_of(pseudo_catalogue())
    english = format_for_client(finding, Units(), load_texts("en"))
    assert english == format_for_client(finding) and "{" not in english
    said = format_for_client(finding, other.localise_units(Units()), other)
    assert said != english and "{" not in said
    assert said.count("<fact>") == english.count("<fact>")


def test_remedies_are_offered_in_the_language_of_the_client():
    other = texts_of(pseudo_catalogue())
    ways = (build_way(ROWS, facts={"rows": 2, "shown": "Ada / Skua"}), build_way(TIGHTER, facts={"tightest": 10}))
    finding = build_finding(TOO_LONG, line=1, facts={"text": "Ada Skua", "over": 2.5}, ways=ways)
    said = format_for_client(finding, other.localise_units(Units()), other)
    assert "Yóú cán chóósé: (1) Sét ít ín 2 línés: Ada / Skua. (2) Sét thé léttérs á líttlé" in said
    assert "You can choose: (1) Set it in 2 lines: Ada / Skua. (2) Set" in format_for_client(finding)
    none = build_finding(TOO_LONG, line=1, facts={"text": "Ada Skua", "over": 2.5})
    assert format_for_client(none, Units(), other).endswith("Pléásé sénd á shórtér wórdíng.")


def test_plural_messages_have_as_many_forms_as_the_language(tmp_path):
    told = "{count:wiersz|wiersze|wierszy}; {count:=ten|te|tych}"
    texts = load_texts(
        "pl", folder=written(tmp_path, "pl", POLISH, f'msgid "finding.list.filtered"\nmsgstr "{told}"\n')
    )
    kind = KINDS["list.filtered"]
    said = [
        format_for_client(build_finding(kind, facts={"count": n, "rows": "4"}), Units(), texts) for n in (1, 3, 5, 22)
    ]
    assert said == ["1 wiersz; ten", "3 wiersze; te", "5 wierszy; tych", "22 wiersze; te"]
    assert "hides 1 row (4). Is it wanted" in format_for_client(build_finding(kind, facts={"count": 1, "rows": "4"}))


# --- every language there is ------------------------------------------------------------------------------------------

OTHERS = [name for name in list_languages() if name != ENGLISH]


def phrases_in(kind_id: str, texts: Texts) -> set[str]:
    """Return the facts that a language's message takes as phrases."""
    template = texts.find_template(kind_id, "")
    return {name for _, name, spec, _ in string.Formatter().parse(template) if name and spec == "phrase"}


@pytest.mark.parametrize("language", OTHERS)
def test_every_example_is_rendered_in_every_language_without_english_phrases(language):
    texts = load_texts(language)
    for code, finding in build_examples().items():
        if not KINDS[code].client:
            continue
        said = format_for_client(finding, texts.localise_units(Units()), texts)
        assert said and "{" not in said and said != format_for_client(finding), code
        for name in phrases_in(build_client_id(code), texts):
            value = str(finding.get_fact(name) or "")
            words = re.search(r"[^\W\d_]{3}", value) and value[0] != "“" and value not in PHRASES
            assert texts.translate_phrase(value) != value or not words, (code, value)


@pytest.mark.parametrize("language", OTHERS)
def test_every_phrase_is_in_every_language(language):
    catalogue = read_catalogue(FOLDER / f"{language}.po")
    found = {m.id: m.string for m in catalogue if m.context == PHRASE}
    assert found.keys() == set(PHRASES)
    for phrase, told in found.items():
        assert told.strip() and facts_of(told) == facts_of(phrase), phrase
        assert len(told) <= 2 * len(phrase) + 40, phrase


def test_a_phrase_with_words_of_the_list_keeps_them():
    german, polish = load_texts("de"), load_texts("pl")
    assert german.translate_phrase("no space in “Skua,Ada”") == "kein Leerzeichen in „Skua,Ada“"
    assert german.translate_phrase("have a straight apostrophe, the others a curled apostrophe") == (
        "mit anderem Zeichen – ein gerader Apostroph; sonst ein geschwungener Apostroph"
    )
    assert german.translate_phrase("apostrophes and dashes") == "Apostrophe und Striche"
    assert polish.translate_phrase("says “two?”") == "„two?”"
    for text in ("Ada and Bo", "the heron", "", "a heron and a note"):
        assert german.translate_phrase(text) == text
    assert load_texts("en").translate_phrase("no space in “x”") == "no space in “x”"


@pytest.mark.parametrize(
    "name",
    ["Skua,Ada", "1. Ada Skua", "Ada Sk0a", "Ada Skua;", "- Ada Skua", "Ada “Bo Skua", "12345", "Ada Skua )",
     "Ada- Skua", "Dr.Ada Skua", "Ada Skua *", "Ada (Skua", "'Ada Skua", "ADA skua"],
)  # fmt: skip
def test_every_question_about_a_name_is_a_phrase_in_every_language(name):
    found = question_text(name, name, TextPlace(row=5, cell="B5"), named=True, marks=frozenset())
    for finding in found:
        for language in OTHERS:
            texts = load_texts(language)
            for fact in phrases_in(build_client_id(finding.code), texts):
                value = str(finding.get_fact(fact))
                assert texts.translate_phrase(value) != value or value[0] == "“", (language, value)


def test_unreviewed_translations_are_reported_to_the_maker_and_marked():
    for language in OTHERS:
        catalogue = read_catalogue(FOLDER / f"{language}.po")
        assert load_texts(language).unread == sum(m.fuzzy for m in catalogue if m.id) > 0
    order = builders.folder().order
    assert check_language(order) == ()
    welsh = order.model_copy(update={"proof": order.proof.model_copy(update={"language": "cy"})})
    (told,) = check_language(welsh)
    assert "in Welsh" in for_maker(told) and "native speaker" in for_maker(told)


def test_the_day_to_answer_by_is_written_as_each_language_writes_it():
    """Unicode CLDR: long dates (English: this paper's order of day, month, year)."""
    day = date(2026, 12, 15)
    told = {language: load_texts(language).render_text("proof.reply-by", day=day) for language in list_languages()}
    for language, words in {
        "en": "15 December 2026", "de": "15. Dezember 2026", "fr": "15 décembre 2026", "es": "15 de diciembre de 2026",
        "it": "15 dicembre 2026", "nl": "15 december 2026", "pl": "15 grudnia 2026", "cy": "15 Rhagfyr 2026",
    }.items():  # fmt: skip
        assert words in told[language]


def test_the_maker_s_noun_is_not_inflected_in_the_proof():
    for language in list_languages():
        texts = load_texts(language).rename_pieces("Xyz", "Xyzzy")
        for id, english in needed().items():
            own = texts.messages.ngettext(id, id, 5) if len(english) > 1 else texts.find_template(id, "")
            for bit in re.findall(r"\{(?:one|many)[^}]*\}", own):
                assert bit in ("{one}", "{many}", "{many:capital}"), (language, id)
        assert "Xyz" in texts.render_plural("proof.plaques", 5) and texts.render_text("proof.cards") == "Xyzzy"


# --- no text in code -------------------------------------------------------------------------------------------------

CLIENT_CODE = [*(PACKAGE / "outputs" / "proof").glob("*.py"), PACKAGE / "outputs" / "workbooks" / "check_sheet.py"]
DRAWS = {
    "draw_text",
    "draw_lines",
    "wrap",
    "shorten",
    "write",
    "write_box",
    "draw_tick_box",
    "draw_choice",
    "begin_page",
}
DRAWS |= {
    "add_bookmark",
    "add_choice",
    "add_hidden",
    "add_text_field",
    "add_tick_box",
    "measure_text",
    "write_string",
    "merge_range",
    "SheetColumn",
    "set_header",
    "add_worksheet",
}
FOR_THE_MAKER = {"_write_whole_order", "_write_settings", "_write_rows", "_build_fault_row"}
"""Functions of the check sheet that write the maker's sheets, which are English."""
NO_TEXT = {
    "centre", "right", "decision", "remarks", "name", "date", "length",
    "title", "text", "label", "Whole order", "Rows of the list",
    "What was found", "What to do",
    "boxes ", "strip ", "left",
    "the lettering of a plaque with a fingerprint",
    "the smallest scale has no place for a blank of several metres",
}  # fmt: skip
"""What stands in code, but is read by no client: names of fields, forms and styles, units, names of the maker's sheets,
and what is said when the tool fails."""


def literals(path: Path) -> set[str]:
    """Return texts in a module's code that a client might read: with a space beside letters, or passed to a call
    that draws."""
    out: set[str] = set()

    def visit(node: ast.AST, drawn: bool) -> None:
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
            if getattr(node, "name", "") in FOR_THE_MAKER:
                return
            told = ast.get_docstring(node, clean=False)
            body = node.body[1:] if told is not None else node.body
            for child in body:
                visit(child, False)
            return
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            return  # what follows a constant is its docstring
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
            if re.search(r"[^\W\d_]{2}", text) and (drawn or re.search(r"\w .*\w|\w $|^ \w", text)):
                out.add(text)
            return
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            drawn = name in DRAWS
        for child in ast.iter_child_nodes(node):
            visit(child, drawn)

    visit(ast.parse(path.read_text(encoding="utf-8")), False)
    return {text for text in out if not ID.fullmatch(text)}


def test_no_text_for_clients_is_in_the_code(tmp_path):
    assert {path.name: found for path in CLIENT_CODE if (found := literals(path) - NO_TEXT)} == {}
    assert set().union(*map(literals, CLIENT_CODE)) >= NO_TEXT  # every exception listed is needed
    bad = tmp_path / "bad.py"
    bad.write_text('def f(pen):\n    """Not this."""\n    pen.draw_text(1, 2, f"page {3}")\n    told = "a few words"\n')
    assert literals(bad) == {"page ", "a few words"}


# --- numbers, languages, files ---------------------------------------------------------------------------------------


def written(folder: Path, name: str, header: str, *messages: str) -> Path:
    text = f'msgid ""\nmsgstr ""\n"Language: {name}\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n{header}\n'
    (folder / f"{name}.po").write_text("\n".join((text, *messages)), encoding="utf-8")
    return folder


POLISH = '"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2);\\n"\n'
"""As the GNU gettext manual, "Additional functions for plural forms", has it."""


def test_a_further_file_is_a_further_language(tmp_path):
    plaques = 'msgid "proof.plaques"\nmsgid_plural "proof.plaques"\n'
    plaques += 'msgstr[0] "{n} tabliczka"\nmsgstr[1] "{n} tabliczki"\nmsgstr[2] "{n} tabliczek"\n'
    reduced = 'msgid "proof.reduced"\nmsgstr "{percent:0.##} % wielkości"\n'
    phrase = 'msgctxt "phrase"\nmsgid "the header"\nmsgstr "nagłówek"\n'
    texts = load_texts("pl-PL", folder=written(tmp_path, "pl", POLISH, plaques, reduced, phrase))
    assert texts.language == "pl"
    assert [texts.render_plural("proof.plaques", n) for n in (1, 3, 5, 22)] == [
        "1 tabliczka", "3 tabliczki", "5 tabliczek", "22 tabliczki",
    ]  # fmt: skip
    assert texts.render_text("proof.reduced", percent=7.5) == "7,5 % wielkości"
    assert (texts.translate_phrase("the header"), texts.translate_phrase("something else")) == (
        "nagłówek",
        "something else",
    )
    assert texts.fill_template("{why:phrase}", {"why": "the header"}) == "nagłówek"
    with pytest.raises(KeyError, match=r"proof\.cover"):
        texts.render_text("proof.cover")
    with pytest.raises(KeyError, match=r"proof\.pieces"):
        texts.render_plural("proof.pieces", 2)


def test_a_language_without_a_catalogue_is_refused_by_name(tmp_path):
    with pytest.raises(
        CannotRun, match=r"\[proof\] language: no texts in “sv”; expected one of “cy”, “de”, “en”, “es”"
    ):
        load_texts("sv")
    written(written(tmp_path, "pl", POLISH), "pt_BR", "")
    with pytest.raises(CannotRun, match="one of “pl”, “pt_BR”"):
        load_texts("cy", folder=tmp_path)
    assert [choose_language(tag, tmp_path) for tag in ("PL", "pt-br", "pt", "en")] == ["pl", "pt_BR", "", ""]
    assert choose_language("en-GB") == "en"


def test_numbers_and_dates_are_written_as_the_language_has_them():
    """Unicode CLDR, chart of number symbols: German has a decimal comma; its long date is “2. Mai 2026”."""
    english, german = load_texts("en"), Texts("de", load_texts("en").messages)
    inches = Units("in")
    for mm in (0.0, 0.004, 2.675, 7.125, 25.4, 1234.5):
        for units in (Units(), inches):
            said = SpokenUnits(units.name).show(mm)  # as a person says it, without trailing zeros
            assert english.localise_units(units).show(mm) == said
            assert german.localise_units(units).show(mm) == said.replace(".", ",")
    assert german.localise_units(Units()).format_pair(7.25, 7.2504) == ("7,2500 mm", "7,2504 mm")
    assert german.localise_units(Units()).format_figure(92.5, "%") == "92,5 %"
    assert german.format_number(Decimal("1234.5"), "#,##0.00") == "1.234,50"
    day = date(2026, 5, 2)
    assert (english.fill_template("{on}", {"on": day}), german.fill_template("{on}", {"on": day})) == (
        "2 May 2026",
        "2. Mai 2026",
    )


def test_a_new_language_s_file_has_everything_to_translate_and_keeps_what_is_translated(tmp_path):
    path = write_new_language("cy", tmp_path)
    text = path.read_text(encoding="utf-8")
    assert "English: Look at every {one}" in text and "#. English: {n} {many}" in text
    blank = read_catalogue(path)
    assert {forms(m.id)[0] for m in blank if m.id and m.context is None} == set(needed())
    assert all(fault.endswith("not translated") for fault in faults_of(blank, needed()))
    path.write_text(text.replace('msgid "proof.correct"\nmsgstr ""', 'msgid "proof.correct"\nmsgstr "cywir"'), "utf-8")
    write_new_language("cy", tmp_path)
    assert read_catalogue(path)["proof.correct"].string == "cywir"


def test_names_of_sheets_fit_the_file_format():
    r"""At most 31 characters, none of []:*?/\ (published limits of the format's applications); a prompt 255."""
    for language in list_languages():
        texts = load_texts(language)
        for id in ("sheet.check", "sheet.sign"):
            assert 0 < len(texts.render_text(id)) <= 31 and not set(texts.render_text(id)) & set("[]:*?/\\")
        words = [texts.render_text(f"sheet.answer.{key}") for key in ("agreed", "change", "refused")]
        assert len({w.casefold() for w in words}) == 3
        offer = texts.render_text(
            "sheet.answer.offer", agreed=words[0], change=words[1], refused=words[2], sheet="x" * 31
        )
        assert len(offer) <= 255
        heads = [
            texts.render_text(id) for id in needed() if id.startswith("sheet.check.") and not facts_of(needed()[id][0])
        ]
        assert len(set(heads)) == len(heads)


def test_no_phrase_for_a_client_names_a_key_of_the_order_file():
    assert [p for p in PHRASES if re.search(r"\[\w+\]|order\.toml|`", p)] == []
