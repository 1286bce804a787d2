"""Papers: what a new starter reads off them is what the file says, and whatever a name holds stays text."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import datetime
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from conftest import RunCommand
from ruamel.yaml import YAML

import formulate
from formulate.describe.papers import LabelSheet, Papers, ServeCard
from formulate.errors import FormulateError
from formulate.report.paper import paper_html, paper_pdf
from tests.commands import EXAMPLES, document_of
from tests.hostile import HOSTILE

RECIPE = EXAMPLES / "recipes" / "damson-aperitif.yaml"
MENU = EXAMPLES / "menus" / "autumn.yaml"

WARM = """
name: Raspberry, warm
size: 3 L bottled
shelf: shelf.yaml
targets: {strength: 20 % vol, sugar: 160 g/L, acid: 5 to 8 g/L}
steps:
  - infuse: {vessel: jar-4l, time: 2 h, temperature: 50 °C, separate: [fine-sieve, press], rinse: 0.5 kg/kg}
  - finish
ingredients:
  - vodka-40: {step: infuse}
  - raspberry: {step: infuse, exactly: 900 g}
  - white-sugar
  - citric-acid
  - water
"""
SHELF = """
currency: EUR
vessels: {jar-4l: 4 L}
offers:
  vodka-40: {pack: 70 cl, price: 9.40 EUR}
  raspberry: {pack: 1 kg, price: 7.90 EUR}
  white-sugar: {pack: 1 kg, price: 1.15 EUR}
  citric-acid: {pack: 500 g, price: 4.30 EUR}
"""


class Read(HTMLParser):
    """Reads a page as a browser does: its tags with their attributes, its rows of cells, its texts."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.rows: list[list[str]] = []
        self.texts: list[str] = []
        self.in_cell = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self.in_cell = True

    def handle_data(self, data: str) -> None:
        self.texts.append(data)
        if self.in_cell:
            self.rows[-1][-1] += data

    def handle_endtag(self, tag: str) -> None:
        self.in_cell = self.in_cell and tag not in ("td", "th", "tr")

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())


@pytest.fixture
def warm(tmp_path: Path) -> Path:
    (tmp_path / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    (tmp_path / "warm.yaml").write_text(WARM, encoding="utf-8")
    return tmp_path / "warm.yaml"


def _pdf(papers: Papers, size: str = "a4") -> Any:
    pytest.importorskip(
        "weasyprint", reason="WeasyPrint or Pango is not here to draw a PDF", exc_type=OSError
    )
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not here to read a PDF")
    return pypdf.PdfReader(io.BytesIO(paper_pdf(papers, size)))


# --- what a new starter reads ---------------------------------------------------------------------


def test_who_follows_the_sheet_weighs_what_the_file_says() -> None:
    rows = Read(paper_html(formulate.sheet(RECIPE))).rows
    weighed = {row[1].split()[-1]: float(row[2]) for row in rows if len(row) == 7 and row[2][:1].isdigit()}
    lines = YAML(typ="safe").load(RECIPE.read_text("utf-8"))["ingredients"]
    written = {name: line["amount"].split() for entry in lines for name, line in entry.items()}
    assert weighed.keys() == written.keys()
    for name, (figure, unit) in written.items():
        assert unit == "g"
        # A balance shows 0.1 g up to 200 g, whole grams above, 0.01 g below 2 g: half a step either way.
        step = 0.01 if float(figure) < 2 else 0.1 if float(figure) < 200 else 1.0
        assert weighed[name] == pytest.approx(float(figure), abs=step / 2 + 1e-9)


def test_the_column_together_adds_up_what_stands_before_it() -> None:
    rows = [row for row in Read(paper_html(formulate.sheet(RECIPE))).rows if len(row) == 7]
    total = 0.0
    checked = 0
    for row in rows:
        if not row[2][:1].isdigit():
            total = 0.0  # the head of the next step: the scale is zeroed
            continue
        total += float(row[2])
        assert float(row[6]) == pytest.approx(total, abs=0.5)
        checked += 1
    assert checked == len(formulate.load(RECIPE).ingredients)


def test_times_by_the_clock_are_the_file_s_own_times_one_after_another(warm: Path) -> None:
    # By hand: begun on Tuesday at 22:30, two hours at 50 °C, so it is strained on Wednesday at 00:30.
    (page,) = formulate.sheet(warm, start="2026-12-01 22:30").pages
    infuse, finish = page.stages
    assert infuse.start.at == datetime(2026, 12, 1, 22, 30)
    assert [action.at for action in infuse.actions if action.text.startswith("Strain")] == [
        datetime(2026, 12, 2, 0, 30)
    ]
    assert finish.start.at == datetime(2026, 12, 2, 0, 30)
    text = Read(paper_html(formulate.sheet(warm, start="2026-12-01 22:30"))).text
    assert "Wed 00:30" in text
    assert "fine sieve and press" in text
    assert "Wet the pressed cake with" in text


def test_without_a_time_in_the_file_no_clock_time_is_made_up() -> None:
    (page,) = formulate.sheet(RECIPE, start="2026-12-01 14:00").pages
    assert [action.at for action in page.stages[1].actions] == [None]


def test_a_start_that_is_no_time_is_refused() -> None:
    for text in ("noon", "25:00", "2026-13-01 10:00", "10"):
        with pytest.raises(FormulateError, match="no time of day"):
            formulate.sheet(RECIPE, start=text)


def test_what_is_added_by_the_card_brings_it_into_its_bands() -> None:
    """Spirit, sugar and water by mass, as anybody can do it on paper; contraction left out."""
    (page,) = formulate.sheet(RECIPE).pages
    drink = page.drink.predicted
    ethanol_kg_l, volume = 0.789239, drink.volume_l  # OIML R 22, at 20 °C
    helped = [row for row in page.card if row.additions]
    assert len(helped) >= 10
    for row in helped:
        added = dict(row.additions or ())
        # vodka of 40 % vol weighs 0.948 kg/L (OIML R 22); a dissolved gram of sugar or acid takes 0.62 mL
        vodka_l = added.pop("vodka-40", 0.0) / 0.94805
        water_l = added.pop("water", 0.0) / 0.99820
        solids_l = sum(added.values()) * 0.62
        after_l = volume + vodka_l + water_l + solids_l
        alcohol_l = volume * row.strength_pct_vol / 100 + vodka_l * 0.40
        sugar_g = volume * row.sugar_g_l + added.get("white-sugar", 0.0) * 1000
        assert 100 * alcohol_l / after_l == pytest.approx(22.0, abs=0.3 + 0.1), row
        assert sugar_g / after_l == pytest.approx(180.0, abs=5.0 + 1.0), row
    assert ethanol_kg_l * volume > 0


def test_everything_to_be_written_has_a_key_in_a_file(warm: Path) -> None:
    from formulate.files.reading import ReadingFile
    from formulate.files.trial import Trial

    (page,) = formulate.sheet(warm).pages
    fields = {
        field.validation_alias or name
        for kind in (ReadingFile, Trial)
        for name, field in kind.model_fields.items()
    }
    assert {blank.key for blank in page.readings} <= fields
    by_hand = {blank.key for stage in page.stages for action in stage.actions for blank in action.blanks}
    assert by_hand >= {"started", "pressed", "jar_full", "cake"}
    assert by_hand <= fields
    assert [stage.out_blanks[0].key for stage in page.stages] == [
        "came_out: {infuse: ... kg}",
        "came_out: {finish: ... kg}",
    ]


def test_a_drink_over_a_limit_says_so_above_everything(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "strong.yaml").write_text(
        "recipe: Too much\ningredients:\n  - vodka-40: {amount: 1 L}\n  - wormwood-herb: {amount: 60 g}\n",
        encoding="utf-8",
    )
    done = run_here("sheet", "strong.yaml", "-o", "strong.html", folder=tmp_path)
    assert done.exit_code == 4
    assert "OVER THE LIMIT: thujone" in Read((tmp_path / "strong.html").read_text("utf-8")).text


# --- menus, cards, labels, tasting ----------------------------------------------------------------


def test_a_menu_is_printed_whole(tmp_path: Path, run_here: RunCommand) -> None:
    out = tmp_path / "week.html"
    done = run_here("menu", MENU, "--json", "--sheets", out)
    plan = json.loads(done.stdout)
    read = Read(out.read_text("utf-8"))
    for row in plan["calendar"]:
        assert f"makes {row['each_l']:.2f} L" in read.text
    for line in plan["lines"]:
        assert line["ingredient"] in read.text
    sums: dict[str, float] = {}
    for line in plan["lines"]:
        sums[line["supplier"]] = round(sums.get(line["supplier"], 0.0) + line["to_pay"], 2)
    for supplier, to_pay in sums.items():
        assert f"{to_pay:.2f} EUR to pay" in read.text, supplier
    assert len(sums) == 9
    for drink in plan["drinks"]:
        assert drink["name"] in read.text


def test_a_label_gives_name_strength_volume_together_and_each_law_its_own_order() -> None:
    papers = formulate.sheet(RECIPE, labels=3, bottle_size="50 cl", lot="A 12")
    text = Read(paper_html(papers)).text
    assert text.count("21.7 % vol 50 cl") == 3
    assert text.count("Lot A 12") == 3
    (page,) = papers.pages
    assert isinstance(page, LabelSheet)
    american = replace(page, label=replace(page.label, jurisdiction="US"))
    lines = Read(paper_html(replace(papers, pages=(american,)))).text
    # 27 CFR 5.63 and 5.65: alcohol content as "Alc. x% by vol."; net contents in mL.
    assert "Alc. 21.7% by vol." in lines
    assert "500 mL" in lines
    assert "27 CFR 16.21" in lines


def test_tasters_see_numbers_and_only_who_pours_sees_names() -> None:
    files = [EXAMPLES / "recipes" / f"{name}.yaml" for name in ("damson-aperitif", "amber-digestif")]
    html = paper_html(formulate.sheet(*files, tasting=True))
    for_tasters, key = html.split('<article class="tasting-key">')
    body = for_tasters.partition("<body>")[2]
    assert "Damson and yarrow aperitif" not in body
    assert "Damson and yarrow aperitif" in key
    (page,) = formulate.sheet(*files, tasting=True).pages
    assert all(str(number) in body and str(number) in key for number, _ in page.samples)
    assert "pregnant" in body


# --- the file itself ------------------------------------------------------------------------------


def test_the_page_asks_nothing_of_any_network(run_here: RunCommand) -> None:
    html = paper_html(formulate.sheet(RECIPE, EXAMPLES / "drinks" / "amber-hour.yaml"))
    read = Read(html)
    assert not {"script", "link", "img", "iframe", "object", "a", "form"} & read.tags
    assert read.attributes <= {"class", "lang", "charset", "http-equiv", "content"}
    assert not re.search(r"url\(|@import|https?:", html)


def test_a_fingerprint_changes_with_any_file_behind_it(warm: Path) -> None:
    before = formulate.sheet(warm).fingerprint
    assert formulate.sheet(warm).fingerprint == before
    shelf = warm.with_name("shelf.yaml")
    shelf.write_text(shelf.read_text("utf-8").replace("7.90", "7.95"), encoding="utf-8")
    assert formulate.sheet(warm).fingerprint != before


@pytest.mark.parametrize(("size", "points"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_pages_are_of_their_paper_and_nothing_is_cut(size: str, points: tuple[float, float]) -> None:
    reader = _pdf(formulate.sheet(RECIPE, EXAMPLES / "drinks" / "orchard-fizz.yaml"), size)
    text = ""
    for page in reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(points, abs=0.1)
        found: list[tuple[float, float, str]] = []

        def note(part: str, at: Any, within: Any, *_: Any, found: list[Any] = found) -> None:
            if part.strip():
                found.append((within[4] * at[0] + at[4], within[5] * at[3] + at[5], part))

        text += page.extract_text(visitor_text=note)
        assert len(found) >= 8, "no page with a line or two that fell off the one before"
        assert all(30.0 <= x <= points[0] - 30.0 and 20.0 <= y <= points[1] - 30.0 for x, y, _ in found)
    for word in ("Vodka, 40 % vol", "2702", "Yarrow herb, dried", "6.0", "signature", "Orchard fizz"):
        assert word in text.replace("\n", " ")


def test_a_pdf_holds_no_link_and_no_action() -> None:
    reader = _pdf(formulate.sheet(RECIPE))
    assert not [page for page in reader.pages if "/Annots" in page]
    assert not {"/OpenAction", "/AA", "/AcroForm"} & set(reader.trailer["/Root"])


def test_wrong_endings_and_papers_are_refused(tmp_path: Path, run_here: RunCommand) -> None:
    for arguments, words in (
        (["-o", tmp_path / "a.docx"], "paper is written as .html or .pdf"),
        (["-o", tmp_path / "a.html", "--paper", "a5"], "--paper: a4 or letter"),
        ([], "Where shall it go?"),
    ):
        done = run_here("sheet", RECIPE, *arguments)
        assert done.exit_code == 2
        assert words in " ".join(done.stderr.split())
    assert not list(tmp_path.iterdir())


def test_json_holds_what_the_paper_says(run_here: RunCommand) -> None:
    document = document_of(run_here("sheet", RECIPE, "--json"))
    (page,) = document["pages"]
    assert page["stages"][0]["lines"][0]["ingredient"] == "vodka-40"
    assert re.fullmatch("[0-9a-f]{12}", document["fingerprint"])


# --- hostile names --------------------------------------------------------------------------------


@cache
def _plain_papers() -> Papers:
    return formulate.sheet(RECIPE, EXAMPLES / "drinks" / "amber-hour.yaml", lot="A 12")


def _everything(name: str) -> Papers:
    """Lay out papers in which every text that a file may give is `name`."""
    papers = formulate.sheet(RECIPE, EXAMPLES / "drinks" / "amber-hour.yaml", lot=name)
    batch, card = papers.pages
    assert isinstance(card, ServeCard)
    lines = [
        tuple(replace(line, name=name, ingredient=name) for line in stage.lines) for stage in batch.stages
    ]
    stages = tuple(
        replace(stage, name=name, vessel=name, lines=own)
        for stage, own in zip(batch.stages, lines, strict=True)
    )
    drink = replace(batch.drink, name=name)
    poured = tuple(replace(line, ingredient=name, text=name) for line in card.drink.lines)
    return replace(
        papers,
        name=name,
        pages=(
            replace(batch, drink=drink, stages=stages, heading=name, lot=name),
            replace(card, drink=replace(card.drink, name=name, lines=poured)),
        ),
    )


def test_there_are_fifty_hostile_names() -> None:
    assert len(set(HOSTILE)) >= 50


PLAIN = Read(paper_html(_everything("Plain name")))


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_no_name_is_more_than_text_on_a_page(name: str) -> None:
    html = paper_html(_everything(name))
    read = Read(html)
    assert read.tags == PLAIN.tags
    assert read.attributes == PLAIN.attributes
    assert len(read.rows) == len(PLAIN.rows)
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u202a-\u202e\u2066-\u2069]", html)
    assert html.count("</style>") == html.count("</html>") == 1
    assert len(html) < 60_000


@pytest.mark.parametrize("name", [HOSTILE[11], "\u202egnp \x00", "x" * 10_000])
def test_no_name_is_more_than_text_in_a_pdf(name: str) -> None:
    reader = _pdf(_everything(name))
    assert not [page for page in reader.pages if "/Annots" in page]
    assert len(reader.pages) <= 12
