"""The page in a real browser: three widths, keyboard alone, an accessibility check, a slider, a lost tab."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT

from page.site import BOTTLE

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
SUGAR = "#answer tr:has(th:text-is('sugar')) td >> nth=0"
TARGETS = "a:not(.skip), button, input:not([type=hidden], [type=checkbox]), label.tick, summary"
TOO_SMALL = (
    f"[...document.querySelectorAll('{TARGETS}')].filter(e => e.offsetParent "
    "&& e.getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 90))"
)
FOCUSED = "document.activeElement.name || document.activeElement.id || document.activeElement.tagName"
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not here")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine (Debian: chromium)"),
]


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    folder = tmp_path_factory.mktemp("bar")
    shutil.copytree(ROOT / "examples", folder, dirs_exist_ok=True)
    command = [sys.executable, "-m", "formulate", "serve", str(folder), "--port", "0", "--no-browser"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield process.stdout.readline().split()[1], folder
        process.terminate()


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    playwright.expect.set_options(timeout=30_000)
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def tab(browser: Any, started: tuple[str, Path]) -> Iterator[Any]:
    tab = browser.new_page()
    said: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.goto(started[0])
    tab.goto(address(started, f"bottle?file={BOTTLE}"))
    yield tab
    tab.close()
    assert said == []


def address(started: tuple[str, Path], path: str) -> str:
    return started[0].split("?")[0] + path


def test_a_slider_moves_the_answer_and_undo_takes_it_back(tab: Any) -> None:
    before = tab.locator(SUGAR).inner_text()
    slider = tab.get_by_role("slider", name="sugar, by hand")
    slider.focus()
    for _ in range(20):
        slider.press("ArrowLeft")
    playwright.expect(tab.locator(SUGAR)).to_have_text("215")
    assert tab.locator("#aim-sugar").input_value() == "220 g/L"
    undo = tab.get_by_role("button", name="Undo")
    while undo.is_visible():
        undo.click()
    playwright.expect(tab.locator(SUGAR)).to_have_text(before)
    assert tab.locator("#aim-sugar").input_value() == "240 g/L"


def test_what_cannot_be_had_is_put_right_by_a_button(tab: Any) -> None:
    tab.locator("#aim-strength").fill("80 % vol")
    tab.get_by_role("heading", name="No recipe").wait_for()
    tab.locator("button[name=apply]").first.click()
    tab.get_by_text("To weigh in").wait_for()
    assert "80 % vol" not in tab.locator("#aim-strength").input_value()


def test_unsaved_work_survives_a_reload(tab: Any) -> None:
    tab.locator("#aim-sugar").fill("210 g/L")
    tab.get_by_role("button", name="Undo").wait_for()
    tab.reload()
    playwright.expect(tab.locator(SUGAR)).to_have_text("205")
    assert tab.locator("#aim-sugar").input_value() == "210 g/L"
    tab.evaluate("sessionStorage.clear()")


SCREENS = [
    *(
        "",
        f"bottle?file={BOTTLE}",
        "bottle?file=bottles/damson-too-cheap.yaml",
        "file?file=jars/damson-jar.yaml",
    ),
    *("file?file=drinks/orchard-fizz.yaml", "file?file=menus/autumn.yaml", "count?file=menus/autumn.yaml"),
    *("infuse?file=bottles/damson-aperitif.yaml", "file?file=shelf.yaml", "file?file=trials/warm.yaml"),
]


@pytest.mark.parametrize("width", [360, 820, 1400])
@pytest.mark.parametrize("path", SCREENS)
def test_nothing_sticks_out_and_fingers_find_it(
    tab: Any, started: tuple[str, Path], path: str, width: int
) -> None:
    tab.goto(address(started, path))
    tab.set_viewport_size({"width": width, "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    assert tab.evaluate(TOO_SMALL) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", SCREENS)
def test_the_accessibility_check_finds_nothing(
    tab: Any, started: tuple[str, Path], path: str, scheme: str
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not here")
    tab.emulate_media(color_scheme=scheme)
    tab.goto(address(started, path))
    found = axe.Axe().run(tab).response["violations"]
    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []


def test_the_keyboard_reaches_everything_in_the_order_it_is_read(tab: Any) -> None:
    reached = []
    for _ in range(200):
        tab.keyboard.press("Tab")
        name = tab.evaluate(FOCUSED)
        if name == "BODY":
            break
        reached.append(name)
    assert "targets.strength" in reached
    assert reached.index("size") < reached.index("targets.strength") < reached.index("ingredients.0.at_least")
    assert re.search(r"do.*as", " ".join(reached))


def test_a_jar_moves_what_to_add_while_it_is_typed(tab: Any, started: tuple[str, Path]) -> None:
    tab.goto(address(started, "file?file=jars/damson-jar.yaml"))
    before = tab.get_by_role("region", name="What to add").inner_text()
    tab.get_by_role("textbox", name="came out").fill("3.60 kg")
    playwright.expect(tab.get_by_role("region", name="What to add")).not_to_have_text(before)
    tab.get_by_role("button", name="Undo").click()
    playwright.expect(tab.get_by_role("region", name="What to add")).to_have_text(before)
    assert tab.get_by_role("textbox", name="came out").input_value() == "3.70 kg"


def test_the_clock_of_a_batch_goes_on_over_a_reload(tab: Any, started: tuple[str, Path]) -> None:
    place = address(started, "infuse?file=bottles/damson-aperitif.yaml")
    tab.goto(place)
    tab.get_by_role("button", name="Begin now").click()
    playwright.expect(tab.locator("#now")).to_contain_text("Now: warm through")
    until = tab.locator("li[data-seconds] .figure").first.inner_text().partition(",")[0]
    tab.reload()
    playwright.expect(tab.locator("#now")).to_contain_text("Now: warm through")
    assert tab.locator("li[data-seconds] .figure").first.inner_text().startswith(until)
    tab.get_by_role("button", name="Put the clock back").click()
    playwright.expect(tab.locator("#now")).to_have_text("Not begun.")


def test_a_menu_is_counted_planned_and_printed(tab: Any, started: tuple[str, Path]) -> None:
    tab.goto(address(started, "file?file=menus/autumn.yaml"))
    tab.get_by_role("link", name="Count the bottles").click()
    tab.get_by_label("gin-40").fill("1.5")
    tab.get_by_role("button", name="Save").click()
    playwright.expect(tab.locator("#told")).to_have_text("Saved.")
    assert "on_hand: 1.5 bottles" in (started[1] / "menus" / "autumn.yaml").read_text("utf-8")
    tab.goto(address(started, "file?file=menus/autumn.yaml"))
    tab.get_by_role("button", name="Work it out").click()
    tab.get_by_text("Looking for a plan").wait_for()
    tab.get_by_role("region", name="The plan").wait_for(timeout=120_000)
    assert "Amber hour" in tab.get_by_role("region", name="The plan").inner_text()


def test_a_bottle_is_saved_by_its_button(tab: Any, started: tuple[str, Path]) -> None:
    """A browser says where a form comes from only if the page lets it; the guard wants to know."""
    tab.locator("#aim-sugar").fill("235 g/L")
    tab.locator("#as").fill("saved by hand")
    tab.get_by_role("button", name="Save as new").click()
    playwright.expect(tab.locator("#told")).to_have_text("Saved.")
    saved = started[1] / "bottles" / "saved-by-hand.yaml"
    assert "sugar: 235 g/L" in saved.read_text("utf-8")
    saved.unlink()
