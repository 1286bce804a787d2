"""What does not fit its vessel is said in the same words everywhere; a named one too small is off target."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest
from conftest import RunCommand

SHELF = """\
currency: EUR
vessels: {jar-2l: 2 L, jar-4l: 4 L, kettle-8l: 8 L}
offers:
  vodka-40: {pack: 70 cl, price: 9.40 EUR}
  damson: {price: 4.80 EUR/kg}
  white-sugar: {pack: 1 kg, price: 1.15 EUR}
"""
BOTTLE = """\
name: Damson liqueur
size: {size}
shelf: shelf.yaml
targets: {{strength: 20 to 22 % vol, sugar: 200 to 220 g/L}}
steps: [{{infuse: {{{vessel}strain: true}}}}, {{finish: {{strain: false}}}}]
ingredients:
  - vodka-40: {{step: infuse}}
  - damson: {{at_least: 300 g per L bottled, step: infuse}}
  - white-sugar: {{step: finish}}
  - water: {{step: finish}}
"""
FULL = 0.9  # of a vessel: the rest is room to stir (common practice)


def _bottle(folder: Path, size: str, vessel: str = "") -> Path:
    (folder / "shelf.yaml").write_text(SHELF, "utf-8")
    path = folder / "bottle.yaml"
    named = f"vessel: {vessel}, " if vessel else ""
    path.write_text(BOTTLE.format(size=size, vessel=named), "utf-8")
    return path


def _one_line(text: str) -> str:
    return " ".join(text.split())


SAID = re.compile(r"`(\w+)` needs ([\d.]+) L with room to stir \(([\d.]+) L, solids and all\)(.*?)\.(?= |$)")


@pytest.mark.parametrize("how", ["solve", "solve --weigh", "predict", "buy", "scale"])
def test_a_named_vessel_that_is_too_small_is_off_target_in_every_job(
    how: str, tmp_path: Path, run_here: RunCommand
) -> None:
    path = _bottle(tmp_path, "3 L bottled", "jar-2l")
    recipe = tmp_path / "recipe.yaml"
    made = run_here("solve", "--all", path, "-o", recipe)
    assert recipe.exists(), "what is off target is still written: somebody may have a larger jar"
    done = {
        "solve": lambda: made,
        "solve --weigh": lambda: run_here("solve", "--all", path, "--weigh"),
        "predict": lambda: run_here("predict", "--all", recipe),
        "buy": lambda: run_here("buy", path),
        "scale": lambda: run_here("scale", "--all", recipe, "--to", "2.9 L bottled"),
    }[how]()
    assert (done.exit_code, done.crash) == (4, ""), done.stderr
    found = SAID.search(_one_line(done.stdout))
    assert found is not None, done.stdout
    step, needs, holds, rest = found.groups()
    assert step == "infuse"
    assert float(needs) == pytest.approx(float(holds) / FULL, abs=0.02)
    assert rest == " and does not fit: jar-2l holds 2 L"
    assert "It fits jar-4l (4 L)." in _one_line(done.stdout)
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_what_the_jar_holds_is_the_liquor_and_the_solids(tmp_path: Path, run_here: RunCommand) -> None:
    """3 L take 900 g damson, of which the library says how much is insoluble, and spirit for 20 % vol.

    Spirit alone is 3 x 0.20/0.40 = 1.5 L; damsons have about the density of water: some 2.3 L with what the
    cake keeps made up for.
    """
    done = run_here("solve", "--all", _bottle(tmp_path, "3 L bottled", "jar-2l"), "--json")
    document = json.loads(done.stdout)
    (note,) = [one for one in document["warnings"] if one["code"] == "vessel_too_small"]
    found = SAID.search(note["text"])
    assert found is not None
    assert 2.2 < float(found[3]) < 2.8


def test_where_no_vessel_is_named_the_largest_of_the_shelf_is_a_remark(
    tmp_path: Path, run_here: RunCommand
) -> None:
    done = run_here("solve", "--all", _bottle(tmp_path, "20 L bottled"))
    assert (done.exit_code, done.stderr) == (0, "")
    found = SAID.search(_one_line(done.stdout))
    assert found is not None
    step, needs, _, rest = found.groups()
    assert step == "finish"  # 20 L of drink; the first step holds some 15 L
    assert float(needs) == pytest.approx(20.0 / FULL, abs=0.02)
    assert rest == "; the largest vessel on the shelf, kettle-8l, holds 8 L"
    batches = math.ceil(20.0 / (FULL * 8.0))
    assert f"Make it in {batches} batches." in _one_line(done.stdout)


def test_batches_are_counted_in_the_largest_where_the_named_one_is_smaller(
    tmp_path: Path, run_here: RunCommand
) -> None:
    done = run_here("solve", "--all", _bottle(tmp_path, "20 L bottled", "jar-4l"))
    assert done.exit_code == 4
    text = _one_line(done.stdout)
    assert text.count("and does not fit: jar-4l holds 4 L.") == 1
    assert text.index("does not fit") < text.index("weigh in")  # said before anybody weighs
    assert re.search(r"Make it in \d batches in kettle-8l \(8 L\), the largest on the shelf\.", text)


def test_what_fits_says_nothing(tmp_path: Path, run_here: RunCommand) -> None:
    for size, vessel in (
        ("1 L bottled", "jar-2l"),
        ("1 L bottled", ""),
        ("fill jar-4l (95 % of the vessel)", ""),
    ):
        done = run_here("solve", "--all", _bottle(tmp_path, size, vessel))
        assert done.exit_code == 0
        assert "room to stir" not in done.stdout, size


def test_nearly_full_is_a_remark(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("solve", "--all", _bottle(tmp_path, "2.45 L bottled", "jar-2l"))
    assert done.exit_code == 0
    found = re.search(r"fills jar-2l to ([\d.]+) of 2 L", _one_line(done.stdout))
    assert found is not None, done.stdout
    assert FULL * 2.0 < float(found[1]) <= 2.0
    assert "That leaves no room to stir." in _one_line(done.stdout)


def test_a_batch_that_outgrows_every_vessel_is_told_by_adjust(tmp_path: Path, run_here: RunCommand) -> None:
    """7 L at 24 % vol and 210 g/L brought to 22 % vol at the most are 7.6 L: more than 90 % of 8 L."""
    path = _bottle(tmp_path, "3 L bottled")
    figures = ["--volume", "7 L", "--strength", "24 % vol", "--sugar", "215 g/L"]
    done = run_here("adjust", "--all", "--bottle", path, *figures)
    assert (done.exit_code, done.crash) == (0, "")
    assert "The batch needs" in _one_line(done.stdout)
    assert "the largest vessel on the shelf, kettle-8l, holds 8 L. Make it in 2 batches." in _one_line(
        done.stdout
    )
    small = run_here("adjust", "--all", "--bottle", path, "--volume", "3 L", *figures[2:])
    assert "vessel" not in small.stdout


def test_a_vessel_not_on_the_shelf_is_refused_at_its_place(tmp_path: Path, run_here: RunCommand) -> None:
    path = _bottle(tmp_path, "1 L bottled", "jar-3l")
    done = run_here("solve", "--all", path)
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"{path.name}:5:" in done.stderr
    assert "no vessel called 'jar-3l' on the shelf. Did you mean 'jar-" in _one_line(done.stderr)


JAR = """\
jar: Jar of spirit
bottle: bottle.yaml
shelf: shelf.yaml
steps: [{{steep: {{vessel: {vessel}, strain: false}}}}]
ingredients:
  - vodka-40: {{amount: 2 bottles}}
"""


def test_what_is_added_is_held_against_the_vessel_of_the_jar(tmp_path: Path, run_here: RunCommand) -> None:
    """By hand: 1.4 L of 40 % vol hold 0.56 L of alcohol; at 22 % vol at the most that is 2.545 L."""
    _bottle(tmp_path, "3 L bottled")
    jar = tmp_path / "jar.yaml"
    jar.write_text(JAR.format(vessel="jar-2l"), "utf-8")
    done = run_here("adjust", "--all", jar)
    assert (done.exit_code, done.crash) == (4, "")
    text = _one_line(done.stdout)
    assert "(2.55 L, solids and all) and does not fit: jar-2l holds 2 L. It fits jar-4l (4 L)." in text
    assert text.index("does not fit") < text.index("or measure")  # said before anybody weighs
    assert text.count("does not fit") == 1
    document = json.loads(run_here("adjust", jar, "--json").stdout)
    vessel = document["vessel"]
    assert (vessel["vessel"], vessel["holds_l"]) == ("jar-2l", 2.0)
    assert vessel["volume_l"] == pytest.approx(2.545, abs=2e-3)
    assert [one["code"] for one in document["warnings"]].count("vessel_too_small") == 1
    jar.write_text(JAR.format(vessel="jar-4l"), "utf-8")
    done = run_here("adjust", "--all", jar)
    assert done.exit_code == 0
    assert "In all it fills jar-4l to 2.55 of 4 L (64 %)" in _one_line(done.stdout)


def test_infuse_knows_the_vessel_of_its_step(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("infuse", "--all", _bottle(tmp_path, "3 L bottled", "jar-2l"))
    assert (done.exit_code, done.crash) == (4, "")
    text = _one_line(done.stdout)
    assert "and does not fit: jar-2l holds 2 L. It fits jar-4l (4 L)." in text
    assert text.index("does not fit") < text.index("Quickest row")
    done = run_here("infuse", _bottle(tmp_path, "3 L bottled", "jar-4l"), "--json")
    assert done.exit_code == 0
    (fill,) = json.loads(done.stdout)["vessels"]
    assert (fill["vessel"], fill["holds_l"]) == ("jar-4l", 4.0)
    assert 2.2 < fill["volume_l"] < 2.8  # as above


@pytest.mark.parametrize(("vessel", "status"), [("jar-2l", "vessel_too_small"), ("jar-4l", "optimal")])
def test_the_status_says_that_the_vessel_is_too_small(
    vessel: str, status: str, tmp_path: Path, run_here: RunCommand
) -> None:
    done = run_here("solve", "--all", _bottle(tmp_path, "3 L bottled", vessel), "--json")
    assert (json.loads(done.stdout)["status"], done.exit_code) == (status, 4 if vessel == "jar-2l" else 0)
