"""A bottle on the page: the figures of the command, what was typed kept, files saved whole or not at all."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import pytest

from formulate.jobs.solve import solve_bottle
from formulate.report.numbers import grams, money
from page.site import BOTTLE, opened_page


@pytest.fixture
def page(tmp_path: Path) -> Any:
    return opened_page(tmp_path)


def version_of(text: str) -> str:
    found = re.search(r'name="version" value="([0-9a-f]{64})"', text)
    assert found
    return found[1]


def text_of(reply: Any) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", reply.text))


def test_it_answers_what_the_command_answers(page: Any, tmp_path: Path) -> None:
    record = solve_bottle(tmp_path / BOTTLE).record
    reply = page.get("/bottle", params={"file": BOTTLE})
    assert reply.status_code == 200
    text = text_of(reply)
    assert record.cost is not None
    assert f"{money(record.cost.per_litre)} EUR per litre" in text
    for line in record.recipe:
        assert re.search(rf"{line.ingredient}\s+{re.escape(grams(line.mass_kg))}\b", text)
    for note in record.cautions:
        if note.for_guests:
            assert (note.short or note.text) in text
    api, own = (
        page.post("/api/solve", params={"file": BOTTLE}).json(),
        solve_bottle(tmp_path / BOTTLE).to_dict(),
    )
    assert api.pop("solver")["name"] == own.pop("solver")["name"]  # the rest of it tells how long it took
    assert api == own


def test_a_target_moves_the_answer_and_not_the_file(page: Any, tmp_path: Path) -> None:
    before = (tmp_path / BOTTLE).read_bytes()
    moved = page.post("/bottle/answer", data={"file": BOTTLE, "targets.strength": "25 % vol"})
    assert re.search(r"strength\s+2[45]\.\d+\s+% vol", text_of(moved))
    assert (tmp_path / BOTTLE).read_bytes() == before


def test_a_price_moves_the_cost_by_what_is_used_of_it(page: Any, tmp_path: Path) -> None:
    record = solve_bottle(tmp_path / BOTTLE).record
    sugar = next(line.cost for line in record.recipe if line.ingredient == "white-sugar")
    assert record.cost is not None
    assert sugar is not None
    reply = page.post("/bottle/answer", data={"file": BOTTLE, "price.white-sugar": "+10 %"})
    assert f"{money(record.cost.total + 0.1 * sugar)} in all" in text_of(reply)
    wrong = page.post("/bottle/answer", data={"file": BOTTLE, "price.white-sugar": "cheap"})
    assert "price of white-sugar" in text_of(wrong)


def test_a_change_that_is_offered_gives_a_recipe(page: Any) -> None:
    asked = {"file": BOTTLE, "targets.strength": "80 % vol"}
    reply = page.post("/bottle/answer", data=asked)
    assert "No recipe" in reply.text
    offers = [html.unescape(value) for value in re.findall(r'name="apply" value="([^"]+)"', reply.text)]
    assert len(offers) >= 2
    for offer in offers:
        answer = page.post("/bottle/answer", data={**asked, "apply": offer})
        assert "To weigh in" in answer.text, offer


def test_what_is_wrong_stands_beside_its_field(page: Any) -> None:
    reply = page.post("/bottle/answer", data={"file": BOTTLE, "targets.sugar": "240 stones"})
    assert reply.status_code == 200
    assert "targets.sugar" in reply.text
    assert "To weigh in" not in reply.text


def test_it_saves_the_text_with_its_remarks(page: Any, tmp_path: Path) -> None:
    file = tmp_path / "bottles" / "own.yaml"
    file.write_text(
        (tmp_path / BOTTLE)
        .read_text()
        .replace("targets:", "# agreed with the kitchen\ntargets:   # by taste")
    )
    version = version_of(page.get("/bottle", params={"file": "bottles/own.yaml"}).text)
    fields = {"file": "bottles/own.yaml", "version": version, "do": "save", "targets.sugar": "200 g/L"}
    reply = page.post("/bottle", data=fields)
    assert reply.status_code == 200
    assert "Saved." in reply.text
    assert file.read_text().count("200 g/L") == 1
    assert "# agreed with the kitchen\ntargets:   # by taste" in file.read_text()


def test_what_changed_elsewhere_is_not_written_over(page: Any, tmp_path: Path) -> None:
    version = version_of(page.get("/bottle", params={"file": BOTTLE}).text)
    other = (tmp_path / BOTTLE).read_text() + "notes: from the other tab\n"
    (tmp_path / BOTTLE).write_text(other)
    fields = {"file": BOTTLE, "version": version, "do": "save", "targets.sugar": "200 g/L"}
    reply = page.post("/bottle", data=fields)
    assert reply.status_code == 409
    assert "changed elsewhere" in reply.text
    assert 'value="200 g/L"' in reply.text
    assert (tmp_path / BOTTLE).read_text() == other


def test_a_new_name_makes_a_new_file_and_a_taken_one_none(page: Any, tmp_path: Path) -> None:
    fields = {"file": BOTTLE, "do": "save as", "as": "Summer leaf", "targets.sugar": "200 g/L"}
    before = (tmp_path / BOTTLE).read_bytes()
    assert page.post("/bottle", data=fields).status_code == 200
    made = tmp_path / "bottles" / "summer-leaf.yaml"
    assert "200 g/L" in made.read_text()
    assert (tmp_path / BOTTLE).read_bytes() == before
    kept = made.read_bytes()
    assert page.post("/bottle", data=fields | {"targets.sugar": "210 g/L"}).status_code == 409
    assert made.read_bytes() == kept


@pytest.mark.parametrize(
    "hostile",
    ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7 * 7 }}", "\u202etxt", "a" * 10_000],
)
def test_no_text_is_taken_for_markup(page: Any, hostile: str) -> None:
    reply = page.post("/bottle", data={"file": BOTTLE, "name": hostile, "size": hostile, "apply": hostile})
    assert reply.status_code == 200
    assert "<script>alert" not in reply.text
    assert "<img" not in reply.text
    assert "49" not in text_of(reply).partition("weigh in")[0]
