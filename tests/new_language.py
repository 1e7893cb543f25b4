"""Create the catalogue of a further language for translation: `python -m tests.new_language de` writes
`pipeline/texts/de.po` with every id, the English beside it, and the plural rule of Unicode CLDR. An existing file is
completed: its translations stay."""

from __future__ import annotations

import io
import sys
from pathlib import Path

from babel import Locale
from babel.messages import Catalog
from babel.messages.pofile import write_po

from pipeline.core.catalogue import KINDS, WAY_KINDS, build_client_id, build_client_way_id
from pipeline.core.catalogue.choices import TOGETHER, build_choice_id, build_together_id, list_choices
from pipeline.core.language.client_phrases import PHRASES
from pipeline.core.language.texts import ENGLISH, FOLDER, PHRASE, read_catalogue
from pipeline.core.measured_values import MEASURED_VALUES


def needed() -> dict[str, tuple[str, ...]]:
    """Map id -> the English of everything a catalogue of another language has: one text, or its singular and plural."""
    english = read_catalogue(FOLDER / f"{ENGLISH}.po")
    found = {m.id if isinstance(m.id, str) else m.id[0]: m.string for m in english if m.id}
    out = {id: (text,) if isinstance(text, str) else tuple(text) for id, text in found.items()}
    out |= {build_client_id(kind.code): (kind.client,) for kind in KINDS.values() if kind.client}
    every = [(code, list_choices(code)) for code, kind in KINDS.items() if kind.client]
    out |= {build_choice_id(choice): (choice.words,) for _, choices in every for choice in choices}
    out |= {build_together_id(code): (asked.words,) for code, asked in TOGETHER.items()}
    out |= {what.text_id: (what.heading,) for what in MEASURED_VALUES if what.heading}
    return out | {build_client_way_id(kind.code): (kind.client,) for kind in WAY_KINDS.values() if kind.client}


def catalogue_for(language: str, known: Catalog | None = None) -> Catalog:
    """Build a catalogue of this language with every message, translated as far as `known` goes."""
    out = Catalog(locale=Locale.parse(language.replace("-", "_")), fuzzy=False)
    if known is not None:
        out.mime_headers = [("Plural-Forms", known.plural_forms)]
    wanted = needed()
    alike = {english: id for id, english in wanted.items() if known is not None and known.get(id) is not None}
    for id, english in wanted.items():
        old = known.get(id) or known.get(alike.get(english, "")) if known is not None else None
        blank = ("",) * out.num_plurals if len(english) > 1 else ""
        out.add(
            id if len(english) == 1 else (id, id),
            old.string if old is not None else blank,
            auto_comments=[f"English: {text}" for text in english],
            flags=old.flags if old is not None else (),
        )
    for phrase in PHRASES:
        old = known.get(phrase, PHRASE) if known is not None else None
        out.add(
            phrase, old.string if old is not None else "", context=PHRASE, flags=old.flags if old is not None else ()
        )
    return out


HEAD = """# What clients read, in {language}. A line "#, fuzzy" marks what no native speaker has read yet:
# it is used all the same, and the maker is told. Take the mark away from what you have read.
msgid ""
msgstr ""
"Language: {code}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {rule}\\n"

"""


def main(language: str, folder: Path = FOLDER) -> Path:
    """Write the file; return its path."""
    path = folder / f"{language.replace('-', '_')}.po"
    known = read_catalogue(path) if path.exists() else None
    made = catalogue_for(language, known)
    out = io.BytesIO()
    write_po(out, made, width=110, omit_header=True)
    rule = made.plural_forms.rstrip(";") + ";"
    head = HEAD.format(language=made.locale.get_display_name("en"), code=path.stem, rule=rule)
    path.write_bytes(head.encode() + out.getvalue())
    return path


if __name__ == "__main__":
    print(main(sys.argv[1]))
