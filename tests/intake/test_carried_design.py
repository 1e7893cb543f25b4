"""`plaques start LIST --design-of ORDER`: use the design of an earlier order or of a sample for a new list."""

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.sample_designs import SAMPLE_DESIGNS
from pipeline.core.config.order_table import list_values
from pipeline.intake import carried_design
from pipeline.intake.carried_design import carry_tables, read_design
from pipeline.intake.design_columns import match_columns
from pipeline.intake.new_order import plan_order
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_orders"
CREST = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><circle cx="4" cy="4" r="4"/></svg>'

EARLIER = """# A note about last year's job.
title  = "Cups 2025"
client = "Heron Reach"
units  = "in"

[list]
file    = "winners.csv"
columns = { name = "Winner", event = "Race", year = "Year", badge = "Badge", copies = "Pieces" }
dates   = { year = "y", badge = "y" }
language = "en"
settled = { "list.look-alike" = "they are two people" }

[blank]
shape     = "rectangle"
width     = 5.0                 # as the client's boards are
height    = 2.0
thickness = 0.25

[cutter]
use = "vbit-60"

[[line]]
text       = "{name}"           # the winner
opposite   = "{year}"
face       = "own/hand.ttf"
cap_height = 0.3

[[line]]
text       = "for {event}"
face       = "noto-sans"
cap_height = 0.2

[[artwork]]
file = "crest.svg"
at   = [0.5, 1.0]

[[artwork]]
file  = "badges/{badge}.svg"
at    = [4.5, 1.0]
width = 0.5

[finish]
sanded_off = 0.004

[proof]
revision = "C"
date     = "3 May 2025"
noun     = { one = "cup", many = "cups" }
shop     = "Own Workshop"
price    = "40"
"""


@pytest.fixture
def earlier(tmp_path):
    """Return a finished order of the maker: with its run, approvals, a font, a crest and badges."""
    folder = tmp_path / "cups-2025"
    (folder / "own").mkdir(parents=True)
    (folder / "badges").mkdir()
    (folder / "order.toml").write_text(EARLIER, encoding="utf-8")
    (folder / "winners.csv").write_text("Winner,Race,Year,Badge,Pieces\nOna Reed,Fours,2025,gull,1\n", encoding="utf-8")
    shutil.copy(next((ROOT / "fonts" / "noto-sans").glob("*.ttf")), folder / "own" / "hand.ttf")
    (folder / "crest.svg").write_text(CREST, encoding="utf-8")
    for name in ("gull.svg", "tern.svg"):
        (folder / "badges" / name).write_text(CREST, encoding="utf-8")
    for name in ("signoff.sqlite", "out/proof.pdf", "sent/proof-A.pdf", "received/1.txt"):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(b"of last year")
    return folder


def begun(tmp_path, text, of, *more):
    """Return the new order folder, and its order file."""
    (tmp_path / "new.csv").write_text(text, encoding="utf-8")
    status = main(["start", str(tmp_path / "new.csv"), "--design-of", str(of), *more])
    assert status == 0
    folder = tmp_path / "new"
    return folder, (folder / "order.toml").read_text(encoding="utf-8")


def files_in(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


LIKE_LAST_YEAR = "Winner,Race,Year,Badge,Pieces\nIda Vex,Eights,2026,gull,2\nBo Skua,Fours,2026,,1\n"


def test_only_the_design_is_carried_over(tmp_path, earlier, capsys):
    (tmp_path / "gull.svg").write_text(CREST.replace("r=", "id='new' r="), encoding="utf-8")
    folder, text = begun(tmp_path, LIKE_LAST_YEAR, earlier)
    said = capsys.readouterr().out
    named = ["badges/gull.svg", "badges/tern.svg", "crest.svg", "new.csv", "order.toml", "own/hand.ttf"]
    assert files_in(folder) == named
    assert "id='new'" in (folder / "badges" / "gull.svg").read_text(encoding="utf-8")  # this year's
    new, old = read_order(folder).order, read_order(earlier).order
    for part in ("blank", "cutter", "line", "artwork", "finish", "units"):
        assert getattr(new, part) == getattr(old, part), part
    assert new.title == "new" and new.client == "" and new.list.settled == {} and new.list.guessed is False
    assert dict(list_values(new.proof, "paper"))["shop"] == "Own Workshop" and new.proof.noun == old.proof.noun
    assert new.proof.revision is None and new.proof.date is None and new.proof.price == ""
    assert "Not taken: [proof] revision, [proof] date, [proof] price." in said
    assert "width     = 5.0                 # as the client's boards are" in text and "last year's job" not in text
    assert new.list.columns == old.list.columns and new.list.dates == old.list.dates
    recipients = read_list(read_order(folder)).recipients
    assert [(r.get_value("name"), r.get_value("event"), r.copies) for r in recipients] == [
        ("Ida Vex", "Eights", 2),
        ("Bo Skua", "Fours", 1),
    ]


def test_differently_worded_headings_are_marked_and_stay_a_question(tmp_path, earlier, capsys):
    listing = "Recipient,Races,Season,Emblem,Qty\nIda Vex,Eights,2026,gull,2\nBo Skua,Fours,2026,tern,1\n"
    folder, text = begun(tmp_path, listing, earlier)
    said = capsys.readouterr().out
    order = read_order(folder).order
    assert order.list.columns == {
        "name": "Recipient",
        "event": "Races",
        "year": "Season",
        "badge": "Emblem",
        "copies": "Qty",
    }
    assert order.list.guessed is True and "list.guessed" in {f.code for f in read_list(read_order(folder)).findings}
    for words in (
        "event: column B: its heading is most like “Race”",
        "year: column C: in place of “Year”",
        "badge: column D: 2 of 2 cells name drawings",
    ):
        assert words in said and f"#   {words.replace(': ', ': check this: ', 1)}" in text
    assert "  name:" not in said and "  copies:" not in said  # recognised by their meaning


def test_a_column_that_the_list_lacks_is_reported_and_marked_in_the_order(tmp_path, earlier, capsys):
    folder, text = begun(tmp_path, "Winner,Town\nIda Vex,Ely\nBo Skua,Wem\n", earlier, "--json")
    said = json.loads(capsys.readouterr().out)
    assert said["design"]["missing"] == ["year", "event", "badge"] and said["recipients"] == 2
    assert said["columns"] == {"name": '"Winner"'}
    lines = [line for line in text.splitlines() if "check this" in line]
    assert any(line.startswith('text       = "for {event}"') and "no column for event" in line for line in lines)
    assert any(line.startswith('opposite   = "{year}"') for line in lines)
    assert any(line.startswith("#   check this: year: the list has no column for it") for line in lines)
    assert "#   not used: “Town”" in text
    assert main(["check", str(folder)]) == 2
    assert "“{event}” is not one of the columns" in capsys.readouterr().err


def test_a_list_without_headings_takes_the_letters_of_one_without(tmp_path, earlier):
    old = EARLIER.replace('{ name = "Winner", event = "Race", year = "Year", badge = "Badge", copies = "Pieces" }',
                          '{ name = "A", event = "B", year = "C", badge = "D" }\nheader = 0')  # fmt: skip
    (earlier / "order.toml").write_text(old, encoding="utf-8")
    (tmp_path / "new.csv").write_text("Ida Vex,Eights,2026,gull\nBo Skua,Fours,2026,tern\n", encoding="utf-8")
    design = read_design(earlier)
    matched = match_columns(plan_order(tmp_path / "new.csv"), design.needed, design.columns)
    assert {key: choice.value for key, choice in matched.columns} == {
        "name": '"A"',
        "event": '"B"',
        "year": '"C"',
        "badge": '"D"',
    }
    assert not any(choice.sure for _, choice in matched.columns)


def test_one_column_is_never_given_to_two_keys(tmp_path, earlier):
    (tmp_path / "new.csv").write_text("Winner,Year,Years\nIda Vex,2026,3\nBo Skua,2026,4\n", encoding="utf-8")
    plan = plan_order(tmp_path / "new.csv")
    matched = match_columns(plan, ("name", "year", "season", "term"), {"name": ("Winner",), "year": ("Year",)})
    values = [choice.value for _, choice in matched.columns]
    assert len(values) == len(set(values)) and dict(matched.columns)["year"].value == '"Year"'
    assert len(matched.missing) == 1


CUTTER = '[cutter]\nuse = "vbit-60"\n'
FINISH = "[finish]\nsanded_off = 0.004\n"


@pytest.mark.parametrize(
    "changes",
    [
        {"[cutter]\n": "[cutter] # of ours\n"},
        {CUTTER: "", "[list]": 'cutter.use = "vbit-60"\n[list]'},
        {CUTTER: "", "[list]": 'cutter = { use = "vbit-60" }\n[list]'},
        {"[proof]": "[list.limits]\nrows = 9\n[proof]"},
        {"\n": "\r\n"},
        {"# A note": "\ufeff# A note"},
        {FINISH: "", "[blank]": f"{FINISH}[blank]"},
        {'language = "en"': 'language = "en"\n# a last word\n'},
    ],
)
def test_the_design_reads_the_same_however_the_order_file_is_written(tmp_path, earlier, changes):
    text = EARLIER
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    (earlier / "order.toml").write_bytes(text.encode("utf-8"))
    design = read_design(earlier)
    (tmp_path / "new.csv").write_text(LIKE_LAST_YEAR, encoding="utf-8")
    matched = match_columns(plan_order(tmp_path / "new.csv"), design.needed, design.columns)
    tables = tomllib.loads(carry_tables(design, matched).text)
    expected = {
        key: value for key, value in tomllib.loads(EARLIER).items() if key not in ("title", "client", "list", "units")
    }
    expected["proof"] = {key: expected["proof"][key] for key in ("noun", "shop")}
    assert tables == expected


def test_a_sample_puts_no_invented_figures_on_a_maker_s_papers(tmp_path, capsys):
    listing = "Recipient,Post,Season\nIda Vex,Cook,2026\nBo Skua,Pilot,2026\n"
    folder, text = begun(tmp_path, listing, "seabird-trust")
    said = capsys.readouterr().out
    assert "the design of the sample seabird-trust" in said and "invented: check every one" in said
    order = read_order(folder).order
    assert order.pour is None and order.board is None and order.rates.hour is None and order.proof.shop == ""
    assert "Tidepool" not in text and "Saltmarsh" not in text
    assert any(line.startswith("thickness = 19.0") and "check this" in line for line in text.splitlines())
    assert files_in(folder) == ["new.csv", "order.toml", "plaque.dxf"]


def test_every_sample_is_named_and_can_be_taken(tmp_path):
    (tmp_path / "new.csv").write_text("Name\nIda Vex\nBo Skua\n", encoding="utf-8")
    plan = plan_order(tmp_path / "new.csv")
    folders = {path.parent.name for path in SAMPLES.glob("*/order.toml")}
    assert set(SAMPLE_DESIGNS) == folders
    for name in SAMPLE_DESIGNS:
        design = read_design(SAMPLES / name, name)
        matched = match_columns(plan, design.needed, design.columns)
        taken = tomllib.loads(carry_tables(design, matched).text)
        assert taken["line"] == design.raw["line"] and taken["blank"] == design.raw["blank"], name
        assert not {"pour", "board", "rates", "labels", "list", "title"} & taken.keys()


def test_a_source_without_a_usable_design_is_reported_and_nothing_is_written(tmp_path, earlier, capsys):
    listing = tmp_path / "new.csv"
    listing.write_text(LIKE_LAST_YEAR, encoding="utf-8")
    before = files_in(tmp_path)
    tries = {
        ("regata-plaques",): "did you mean “regatta-plaques”?",
        (str(tmp_path / "cups-2024"),): "there is no order",
        (str(tmp_path),): "there is no order.toml in this folder",
        (str(listing),): "this is a list, not an order",
        (str(earlier), "--drawing", "plate.dxf"): "one of --drawing and --design-of",
        (str(earlier), "--in", str(earlier)): "there is already an order here",
    }
    for words, said in tries.items():
        assert main(["start", str(listing), "--design-of", *words]) == 2
        assert said in capsys.readouterr().err.replace("Did", "did"), words
    assert main(["start", "--shop", str(tmp_path), "--design-of", "bench-plates"]) == 2
    (earlier / "crest.svg").unlink()
    assert main(["start", str(listing), "--design-of", str(earlier)]) == 2
    assert "there is no file “crest.svg”" in capsys.readouterr().err
    assert files_in(tmp_path) == [name for name in before if not name.endswith("crest.svg")]


def test_a_design_that_needs_something_the_new_shop_lacks_is_refused(tmp_path, earlier, capsys):
    (earlier / "shop.toml").write_text('[[cutter]]\nname = "fine"\nkind = "point"\ntip = 0.2\n', encoding="utf-8")
    order = EARLIER.replace('"vbit-60"', '"fine"')
    (earlier / "order.toml").write_text(order, encoding="utf-8")
    (tmp_path / "new.csv").write_text(LIKE_LAST_YEAR, encoding="utf-8")
    assert main(["start", str(tmp_path / "new.csv"), "--design-of", str(earlier)]) == 2
    said = capsys.readouterr().err
    assert "--design-of the order “cups-2025”" in said and "[cutter], use" in said and "fine" in said
    assert not (tmp_path / "new").exists()
    (tmp_path / "shop.toml").write_bytes((earlier / "shop.toml").read_bytes())
    assert main(["start", str(tmp_path / "new.csv"), "--design-of", str(earlier)]) == 0


@pytest.mark.parametrize("file", ["../{badge}.svg", "/etc/{badge}.svg", "{badge}/{badge}.svg", "~/{badge}.svg"])
def test_files_by_row_never_come_from_outside_the_order(tmp_path, earlier, file):
    (tmp_path / "secret.svg").write_text(CREST, encoding="utf-8")
    (earlier / "badges" / "link.svg").symlink_to(tmp_path / "secret.svg")
    order = EARLIER.replace("badges/{badge}.svg", file)
    (earlier / "order.toml").write_text(order, encoding="utf-8")
    (tmp_path / "new.csv").write_text(LIKE_LAST_YEAR.replace("gull", "secret"), encoding="utf-8")
    main(["start", str(tmp_path / "new.csv"), "--design-of", str(earlier), "--in", str(tmp_path / "in" / "new")])
    written = files_in(tmp_path / "in") if (tmp_path / "in").exists() else []
    assert not any("link" in name for name in written)
    assert files_in(tmp_path).count("secret.svg") == 1 and not (tmp_path / "in" / "secret.svg").exists()


def test_every_drawing_by_row_is_taken_however_many(tmp_path, earlier, monkeypatch, capsys):
    for number in range(620):
        (earlier / "badges" / f"b{number:03}.svg").write_text(CREST, encoding="utf-8")
    listing = "Winner,Race,Year,Badge,Pieces\nIda Vex,Eights,2026,b619,2\nBo Skua,Fours,2026,tern,1\n"
    folder, _ = begun(tmp_path, listing, earlier)
    assert len(list((folder / "badges").iterdir())) == 622
    monkeypatch.setattr(carried_design, "MOST_DRAWINGS_MB", 0)
    capsys.readouterr()
    assert main(["start", str(tmp_path / "new.csv"), "--design-of", str(earlier), "--in", str(tmp_path / "b")]) == 2
    assert "622 drawings by row have more than 0 MB" in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "b").exists()


def test_fonts_of_another_shop_are_copied_and_reported(tmp_path, earlier, capsys):
    """The other shop's font folder isn't part of the order folder, and its names mean nothing in this shop."""
    fonts = earlier / "fonts"
    fonts.mkdir()
    shutil.copy(earlier / "own" / "hand.ttf", fonts / "Quay Sans.ttf")
    (earlier / "shop.toml").write_text('[shop]\nfonts = "fonts"\n', encoding="utf-8")
    text = EARLIER.replace('"own/hand.ttf"', '"Quay Sans"').replace('"noto-sans"', '"noto-sans"\nalso = ["Quay Sans"]')
    (earlier / "order.toml").write_text(text, encoding="utf-8")
    folder, written = begun(tmp_path, LIKE_LAST_YEAR, earlier)
    said = capsys.readouterr().out
    assert "From the own fonts of its shop, into shop-fonts: Quay Sans." in said
    name = "shop-fonts/Quay Sans.ttf"
    assert (folder / name).read_bytes() == (fonts / "Quay Sans.ttf").read_bytes()
    first, second = read_order(folder).order.line
    assert first.face == name and list(second.also) == [name] and "# the winner" in written
    assert main(["check", str(folder)]) in (0, 1)


def test_a_font_that_the_new_shop_also_has_stays_referenced_by_name(tmp_path, earlier, capsys):
    for place in (earlier, tmp_path):
        (place / "fonts").mkdir()
        shutil.copy(earlier / "own" / "hand.ttf", place / "fonts" / "Quay Sans.ttf")
        (place / "shop.toml").write_text('[shop]\nfonts = "fonts"\n', encoding="utf-8")
    (earlier / "order.toml").write_text(EARLIER.replace('"own/hand.ttf"', '"Quay Sans"'), encoding="utf-8")
    folder, _ = begun(tmp_path, LIKE_LAST_YEAR, earlier)
    assert read_order(folder).order.line[0].face == "Quay Sans" and not (folder / "shop-fonts").exists()
    other = next((ROOT / "fonts" / "montserrat").glob("*.ttf"))
    shutil.copy(other, tmp_path / "fonts" / "Quay Sans.ttf")  # another typeface with the same name
    shutil.rmtree(folder)
    folder, _ = begun(tmp_path, LIKE_LAST_YEAR, earlier)
    assert read_order(folder).order.line[0].face == "shop-fonts/Quay Sans.ttf"


def test_numbers_of_houses_are_no_copies_of_a_carried_design(tmp_path):
    (tmp_path / "houses.csv").write_text("Room,Number\nRook Barn,12\nTwo Hares,17\nMill Leat,4\n", encoding="utf-8")
    main(["start", str(tmp_path / "houses.csv"), "--design-of", "seabird-trust"])
    columns = tomllib.loads((tmp_path / "houses/order.toml").read_text(encoding="utf-8"))["list"]["columns"]
    assert "copies" not in columns
