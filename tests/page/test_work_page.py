"""Jars, drinks, menus, recipes, readings and trials on the page: the command's words, files kept whole."""

from __future__ import annotations

import html
import random
import re
from pathlib import Path
from time import sleep
from typing import Any

import pytest
from conftest import ROOT, RunCommand

from formulate.jobs.draft import load_draft
from formulate.jobs.filled_in import filled_in, groups_of
from page.site import opened_page

JAR, DRINK, MENU = "jars/damson-jar.yaml", "drinks/orchard-fizz.yaml", "menus/autumn.yaml"
RECIPE, SHELF = "recipes/damson-aperitif.yaml", "shelf.yaml"
EVERY = [
    *(
        path.relative_to(ROOT / "examples").as_posix()
        for path in sorted((ROOT / "examples").glob("*/*.yaml"))
    ),
    SHELF,
]


@pytest.fixture
def page(tmp_path: Path) -> Any:
    return opened_page(tmp_path)


def said(reply: Any) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", reply.text)).split())


def version(reply: Any) -> str:
    found = re.search(r'name="version" value="([0-9a-f]{64})"', reply.text)
    assert found
    return found[1]


@pytest.mark.parametrize("file", EVERY)
def test_every_file_of_the_examples_opens(page: Any, file: str) -> None:
    reply = page.get("/open", params={"file": file})
    assert reply.status_code == 200
    assert "cannot be worked out" not in said(reply)


@pytest.mark.parametrize(
    ("command", "file"), [("pour", DRINK), ("gauge", "jars/damson-reading.yaml"), ("adjust", JAR)]
)
def test_the_page_says_what_the_command_says(
    page: Any, tmp_path: Path, run_here: RunCommand, command: str, file: str
) -> None:
    told = run_here(command, tmp_path / file).stdout
    shown = said(page.get("/file", params={"file": file}))
    first = [" ".join(line.split()) for line in told.splitlines() if line.strip()][:8]
    assert [line for line in first if line not in shown] == []


def test_what_came_out_moves_what_to_add_and_not_the_file(page: Any, tmp_path: Path) -> None:
    before = (tmp_path / JAR).read_bytes()
    as_it_is = said(page.get("/file", params={"file": JAR}))
    moved = said(page.post("/file/answer", data={"file": JAR, "came_out": "3.60 kg"}))
    assert "3.700 kg" in as_it_is
    assert "3.600 kg" in moved
    assert (tmp_path / JAR).read_bytes() == before


def until_done(page: Any, plan: str) -> Any:
    for _ in range(900):
        reply = page.get("/plan", params={"plan": plan})
        if "data-planning" not in reply.text:
            return reply
        sleep(0.1)
    raise AssertionError("it goes on and on")


@pytest.mark.slow
def test_a_plan_can_be_stopped_and_no_third_is_begun(page: Any) -> None:
    keys = []
    for _ in range(2):
        going = page.post("/plan", data={"file": MENU})
        found = re.search(r'data-planning="([\w-]+)"', going.text)
        assert found
        keys.append(found[1])
    third = page.post("/plan", data={"file": MENU})
    assert third.status_code == 400
    assert "Two plans are being looked for already" in said(third)
    for key in keys:
        page.post("/plan/stop", data={"plan": key})
    for key in keys:
        told = said(until_done(page, key))
        assert "Stopped before there was any plan" in told or "Amber hour" in told


@pytest.mark.slow
def test_a_menu_is_planned_when_asked_and_saved_with_its_remarks(page: Any, tmp_path: Path) -> None:
    first = page.get("/file", params={"file": MENU})
    assert "Planning takes a moment" in said(first)
    fields = {"file": MENU, "version": version(first), "drinks/0/sells": "20 ± 5 per week"}
    going = page.post("/plan", data=fields)
    key = re.search(r'data-planning="([\w-]+)"', going.text)
    assert key
    assert "Looking for a plan" in said(going)
    planned = until_done(page, key[1])
    assert "Amber hour" in said(planned)
    assert "amber-digestif" in said(planned)
    assert page.get("/plan", params={"plan": "another"}).status_code == 400
    page.post("/file", data=fields | {"do": "save"})
    before = (ROOT / "examples" / MENU).read_text("utf-8")
    after = (tmp_path / MENU).read_text("utf-8")
    assert after == before.replace("55 ± 12 per week", "20 ± 5 per week")


def test_counting_writes_tenths_of_bottles_and_nothing_else(page: Any, tmp_path: Path) -> None:
    shown = page.get("/count", params={"file": MENU})
    assert 'name="gin-40" value="3.4"' in shown.text
    fields = {"file": MENU, "version": version(shown), "gin-40": "1,2", "vodka-40": "4.2"}
    assert "Saved." in said(page.post("/count", data=fields))
    before = (ROOT / "examples" / MENU).read_text("utf-8")
    assert (tmp_path / MENU).read_text("utf-8") == before.replace("3.4 bottles", "1.2 bottles")


@pytest.mark.parametrize("number", ["many", "-1", "1e9", "nan"])
def test_a_count_that_cannot_be_is_said_and_not_saved(page: Any, tmp_path: Path, number: str) -> None:
    fields = {"file": MENU, "version": version(page.get("/count", params={"file": MENU})), "gin-40": number}
    reply = page.post("/count", data=fields)
    assert reply.status_code == 400
    assert "gin-40: so many bottles cannot be there" in said(reply)
    assert f'value="{number}"' in reply.text, "what was typed is kept"
    assert (tmp_path / MENU).read_bytes() == (ROOT / "examples" / MENU).read_bytes()


@pytest.mark.parametrize("place", ["/file", "/count"])
def test_a_second_tab_is_told_and_nothing_is_overwritten(page: Any, tmp_path: Path, place: str) -> None:
    old = version(page.get(place, params={"file": MENU}))
    path = tmp_path / MENU
    path.write_text(path.read_text("utf-8") + "# counted by hand\n", encoding="utf-8")
    reply = page.post(
        place, data={"file": MENU, "version": old, "do": "save", "gin-40": "1", "cover": "95 %"}
    )
    assert reply.status_code == 409
    assert "was changed elsewhere" in said(reply)
    assert path.read_text("utf-8").endswith("# counted by hand\n")


def test_what_is_wrong_is_said_with_its_field_and_not_saved(page: Any, tmp_path: Path) -> None:
    fields = {"file": DRINK, "version": version(page.get("/file", params={"file": DRINK})), "price": "much"}
    tried = page.post("/file", data=fields)
    assert "price" in said(tried)
    assert "cannot be worked out" in said(tried)
    assert page.post("/file", data=fields | {"do": "save"}).status_code == 400
    assert (tmp_path / DRINK).read_bytes() == (ROOT / "examples" / DRINK).read_bytes()


def test_no_field_opens_another_file(page: Any, tmp_path: Path) -> None:
    """Names of files are no fields, and what is typed for them anyway changes nothing."""
    (tmp_path.parent / "secret.yaml").write_text("currency: SECRET-WORD\n", encoding="utf-8")
    for file in EVERY:
        keys = [field.key for group in groups_of(load_draft(tmp_path / file)) for field in group.fields]
        assert not [key for key in keys if key.split("/")[-1] in ("shelf", "bottle")], file
    for key in ("shelf", "house/damson-aperitif", "drinks/0/drink", "bottle"):
        for text in ("../../secret.yaml", "/etc/passwd"):
            for file in (DRINK, JAR, RECIPE):
                reply = page.post("/file/answer", data={"file": file, key: text})
                assert reply.status_code == 200
                assert "SECRET-WORD" not in reply.text
                assert "root:" not in reply.text
                assert "cannot be worked out" not in said(reply)


def test_paper_is_the_sheet_of_the_command_and_carries_no_script(page: Any) -> None:
    for file in (RECIPE, DRINK, JAR):
        reply = page.get("/paper", params={"file": file})
        assert reply.status_code == 200
        policy = reply.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; style-src 'sha256-")
        assert "unsafe" not in policy
        assert "<script" not in reply.text
        assert " style=" not in reply.text


def test_plans_and_their_times_stand_on_the_infusing_page(page: Any) -> None:
    shown = page.get("/infuse", params={"file": "bottles/damson-aperitif.yaml", "plans": "36 h at 4 °C"})
    assert "36 h 4 °C" in said(shown)
    assert [int(one) for one in re.findall(r'data-seconds="(\d+)"', shown.text)]
    wrong = page.get("/infuse", params={"file": "bottles/damson-aperitif.yaml", "plans": "soon"})
    assert wrong.status_code == 200
    assert "soon" in said(wrong)


@pytest.mark.parametrize("file", EVERY)
def test_a_form_sent_back_as_it_is_changes_no_letter(file: str) -> None:
    document = load_draft(ROOT / "examples" / file)
    fields = {field.key: field.text for group in groups_of(document) for field in group.fields}
    assert filled_in(document, fields).places.text == document.places.text


@pytest.mark.parametrize("file", [JAR, DRINK, "jars/damson-reading.yaml", RECIPE, SHELF])
def test_nothing_typed_brings_it_down(page: Any, tmp_path: Path, file: str) -> None:
    """A field or two at a time filled with what nobody should type: an answer or a problem, never a fault."""
    chance = random.Random(16)
    keys = [field.key for group in groups_of(load_draft(tmp_path / file)) for field in group.fields]
    strange = ["", " ", "-1 g", "1e400 g", "nan", "5", "{", "[", "'", "# x", "a: b", "- 1"]
    strange += ["\u2028", "é" * 500, "<b>", "0 g"]
    for _ in range(40):
        typed = {key: chance.choice(strange) for key in chance.sample(keys, k=min(2, len(keys)))}
        reply = page.post("/file/answer", data={"file": file, **typed})
        assert reply.status_code == 200, typed
