"""`init`, `check`, `library`, `schema` and `predict`, and the example changed in five ways."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import get_args

import pytest
from conftest import RunCommand

from formulate.files.schema import Kind
from tests.commands import (
    document_of,
    edited,
    only_stderr,
    only_stdout,
)

# --- the other commands -------------------------------------------------------------------------------


def test_init_writes_a_folder_whose_bottle_solves(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("init", "bar", folder=tmp_path)
    assert (done.exit_code, done.crash) == (0, "")
    written = [tmp_path / line for line in done.stdout.splitlines()]
    assert sorted(path for path in tmp_path.rglob("*") if path.is_file()) == sorted(written)
    next_command = re.fullmatch(r"Next: formulate (solve .+\.yaml)\n", done.stderr)
    assert next_command is not None
    assert "no cheaper recipe exists (proved)" in only_stdout(
        run_here(*next_command[1].split(), folder=tmp_path)
    )
    assert only_stdout(run_here("check", *written)).count("ok  ") == len(written)


def test_init_never_replaces_a_file_unasked(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "shelf.yaml").write_text("mine", encoding="utf-8")
    told = only_stderr(run_here("init", folder=tmp_path), 2)
    assert told == "shelf.yaml: there already. Nothing was written; add --force to replace.\n"
    assert [path.name for path in tmp_path.rglob("*")] == ["shelf.yaml"]
    told = only_stderr(run_here("init", "--force", folder=tmp_path), 2)
    assert "what somebody changed" in " ".join(told.split())
    assert (tmp_path / "shelf.yaml").read_text(encoding="utf-8") == "mine"
    (tmp_path / "shelf.yaml").unlink()
    assert run_here("init", folder=tmp_path).exit_code == 0
    assert run_here("init", "--force", folder=tmp_path).exit_code == 0


def test_init_where_a_folder_cannot_be_made(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "bottles").write_text("a file by that name", encoding="utf-8")
    assert "cannot be made" in only_stderr(run_here("init", folder=tmp_path), 2)
    assert [path.name for path in tmp_path.rglob("*")] == ["bottles"]


def test_check_tells_what_each_file_is(run_here: RunCommand) -> None:
    files = [
        "examples/shelf.yaml",
        "examples/bottles/quince-cordial.yaml",
        "examples/recipes/quince-cordial.yaml",
    ]
    told = only_stdout(run_here("check", *files))
    assert re.findall(r"^ok  (\S+): (\w+),", told, re.MULTILINE) == list(
        zip(files, ("shelf", "bottle", "recipe"), strict=True)
    )
    document = document_of(run_here("check", *files, "--json"))
    assert [(file["path"], file["kind"]) for file in document["files"]] == list(
        zip(files, ("shelf", "bottle", "recipe"), strict=True)
    )


def test_check_tells_the_problems_of_every_file_at_once(bar: Path, run_here: RunCommand) -> None:
    one = edited(bar, "bottles/quince-cordial.yaml", ("12 g/L", "12 g/kg"))
    other = edited(bar, "recipes/quince-cordial.yaml", ("2400 g", "-2400 g"))
    done = run_here("check", bar / "shelf.yaml", one, other)
    assert (done.exit_code, done.crash) == (2, "")
    assert done.stdout.startswith(f"ok  {(bar / 'shelf.yaml').as_posix()}: shelf")
    assert done.stdout.count("ok  ") == 1
    assert f"{one.as_posix()}:7:9: targets.acid: " in done.stderr
    assert f"{other.as_posix()}:9:22: ingredients.0.quince.amount: " in done.stderr


def test_library_searches_and_shows(run_here: RunCommand) -> None:
    found = only_stdout(run_here("library", "bitter"))
    assert re.search(r"^gentian-root ", found, re.MULTILINE)
    assert not re.search(r"^white-sugar ", found, re.MULTILINE)
    one = only_stdout(run_here("library", "gentian-root"))
    assert one.startswith("Gentian root, dried (Gentiana lutea)")
    assert "Where it comes from" in one
    everything = document_of(run_here("library", "--json"))
    assert len(everything["ingredients"]) > 100
    assert len({item["id"] for item in everything["ingredients"]}) == len(everything["ingredients"])


def test_library_puts_the_shelf_on_top(bar: Path, run_here: RunCommand) -> None:
    shelf = edited(
        bar, "shelf.yaml", ("offers:", "ingredients:\n  damson: {based_on: damson, ph: 3.1}\n\noffers:")
    )
    own = document_of(run_here("library", "damson", "--shelf", shelf, "--json"))["ingredients"]
    assert [(item["id"], item["ph"], item["overrides"]) for item in own] == [("damson", 3.1, ["ph"])]
    assert document_of(run_here("library", "damson", "--json"))["ingredients"][0].get("ph") != 3.1


def test_library_that_finds_nothing_offers_a_name(run_here: RunCommand) -> None:
    told = " ".join(only_stderr(run_here("library", "gentianroot"), 2).split())
    assert told.startswith(
        "nothing in the library fits 'gentianroot'. Did you mean 'gentian-root'? What you buy"
    )


@pytest.mark.parametrize("kind", get_args(Kind))
def test_schema_of_each_kind(kind: str, tmp_path: Path, run_here: RunCommand) -> None:
    text = only_stdout(run_here("schema", kind))
    assert json.loads(text)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    done = run_here("schema", kind, "-o", tmp_path / "schema.json")
    assert (done.exit_code, done.stdout) == (0, "")
    assert (tmp_path / "schema.json").read_text(encoding="utf-8").strip() == text.strip()


def test_schema_of_an_unknown_kind(run_here: RunCommand) -> None:
    told = only_stderr(run_here("schema", "cocktail"), 2)
    said = f"no file kind called 'cocktail'. There are: {', '.join(get_args(Kind))}."
    assert " ".join(told.split()) == said


def test_predict_compares_with_the_bottle_it_names(bar: Path, run_here: RunCommand) -> None:
    changed = edited(bar, "recipes/lemon-leaf-40.yaml", ("431.052922 g", "900 g"))
    told = only_stdout(run_here("predict", "--all", changed))
    strength = next(line for line in told.splitlines() if line.startswith("strength"))
    assert "27.5 to 28.5" in strength
    assert strength.endswith("too low")


# --- a first try in a bar: the example changed in five ways ---------------------------------------------


def test_changed_an_ingredient_taken_out(bar: Path, run_here: RunCommand) -> None:
    path = "bottles/damson-aperitif.yaml"
    before = document_of(run_here("solve", bar / path, "--json"))
    changed = edited(bar, path, ("  - centaury-herb: {step: infuse}\n", ""))
    # Only yarrow is bitter now, and it may bring 60 % of the bitterness at most: no recipe, and it says why.
    told = only_stderr(run_here("solve", "--all", changed), 3)
    assert "yarrow-herb share of bitterness" in told
    edited(bar, path, (", share_of_bitterness: 30 to 60 %", ""))
    after = document_of(run_here("solve", changed, "--json"))
    assert "centaury-herb" not in {line["ingredient"] for line in after["recipe"]}
    assert after["predicted"]["bitterness_value"] == pytest.approx(before["predicted"]["bitterness_value"])


def test_changed_to_an_impossible_target(bar: Path, run_here: RunCommand) -> None:
    # 40 % vol spirit cannot make a 45 % vol liqueur.
    changed = edited(bar, "bottles/lemon-leaf-40.yaml", ("28 ± 0.5 % vol", "45 ± 0.5 % vol"))
    told = only_stderr(run_here("solve", "--all", changed), 3)
    assert "strength: at least 44.5 % vol" in told
    assert f"{changed.as_posix()}:6" in told
    reachable = re.search(r"strength down to ([0-9.]+) % vol", told)
    assert reachable is not None
    assert 20.0 < float(reachable[1]) < 40.0


def test_changed_by_a_slip_of_the_keyboard(bar: Path, run_here: RunCommand) -> None:
    changed = edited(
        bar, "bottles/damson-aperitif.yaml", ("damson: {at_least", "damsom: {at_leest"), ("sugar:", "suger:")
    )
    told = only_stderr(run_here("solve", "--all", changed), 2)
    for words in ("Did you mean 'sugar'?", "Did you mean 'at_least'?"):
        assert words in told
    edited(bar, "bottles/damson-aperitif.yaml", ("at_leest", "at_least"), ("suger:", "sugar:"))
    told = only_stderr(run_here("solve", "--all", changed), 2)
    assert told.startswith(f"{changed.as_posix()}:16:5: ingredients.2: no ingredient called 'damsom'")
    assert "Did you mean 'damson'?" in told


@pytest.mark.parametrize("name", ["damson-aperitif", "quince-cordial"])
@pytest.mark.parametrize(("size", "litres"), [("20000 L bottled", 20_000.0), ("50 mL bottled", 0.05)])
def test_changed_to_a_huge_or_tiny_batch(
    name: str, size: str, litres: float, bar: Path, run_here: RunCommand
) -> None:
    path = f"bottles/{name}.yaml"
    old = "5 L bottled" if name == "damson-aperitif" else "12 bottles of 50 cl"
    if name == "damson-aperitif":
        edited(bar, path, ("{fixed_loss: 20 g}", "{fixed_loss: 0 g}"))  # what does not grow with the batch
    before = document_of(run_here("solve", bar / path, "--json"))
    after = document_of(
        run_here("solve", "--all", edited(bar, path, (f"size: {old}", f"size: {size}")), "--json")
    )
    factor = litres / before["predicted"]["volume_l"]
    assert after["status"] == "optimal"
    assert after["predicted"]["volume_l"] == pytest.approx(litres, rel=1e-9)
    assert after["cost"]["per_litre"] == pytest.approx(before["cost"]["per_litre"], rel=1e-6)
    assert {line["ingredient"]: line["mass_g"] for line in after["recipe"]} == pytest.approx(
        {line["ingredient"]: line["mass_g"] * factor for line in before["recipe"]}, rel=1e-4
    )


def test_changed_to_a_tiny_batch_with_a_fixed_loss_needs_more_of_everything(
    bar: Path, run_here: RunCommand
) -> None:
    changed = edited(bar, "bottles/damson-aperitif.yaml", ("5 L bottled", "50 mL bottled"), ("9.80", "20"))
    document = document_of(run_here("solve", changed, "--json"))
    # 20 g stay in the vessel where about 52 g are bottled, so it costs about (52 + 20) / 52 of the usual.
    assert document["predicted"]["volume_l"] == pytest.approx(0.05, rel=1e-9)
    assert sum(step["lost_g"] for step in document["steps"]) > 20.0
    assert 11.0 < document["cost"]["per_litre"] < 14.0


def test_changed_to_ounces_and_gallons(bar: Path, run_here: RunCommand) -> None:
    # Exact by definition: 1 lb = 0.45359237 kg, 1 oz = 1/16 lb (international yard and pound agreement,
    # 1959); 1 US gal = 231 in3 = 3.785411784 L, 1 US fl oz = 1/128 gal (NIST Handbook 44, appendix C).
    gallon_l, ounce_g = 3.785411784, 453.59237 / 16.0
    changed = edited(
        bar,
        "bottles/damson-aperitif.yaml",
        ("size: 5 L bottled", "size: 2 gal bottled"),
        ("180 ± 5 g/L", "24 ± 0.5 oz/gal"),
        ("250 g per L bottled", "32 oz per gal bottled"),
        ("cost: at most 9.80 EUR/L", "cost: at most 36 EUR/gal"),
        ("{fixed_loss: 20 g}", "{fixed_loss: 0.5 oz}"),
    )
    edited(bar, "shelf.yaml", ("vodka-40: {pack: 70 cl", "vodka-40: {pack: 23.67 fl oz"))
    document = document_of(run_here("solve", changed, "--json"))
    targets = {target["target"]: target for target in document["targets"]}
    assert document["predicted"]["volume_l"] == pytest.approx(2 * gallon_l, rel=1e-9)
    assert targets["sugar"]["lower"] == pytest.approx(23.5 * ounce_g / gallon_l, rel=1e-12)
    assert targets["sugar"]["upper"] == pytest.approx(24.5 * ounce_g / gallon_l, rel=1e-12)
    assert targets["cost"]["upper"] == pytest.approx(36.0 / gallon_l, rel=1e-12)
    masses = {line["ingredient"]: line["mass_g"] for line in document["recipe"]}
    assert masses["damson"] == pytest.approx(2 * 32 * ounce_g, rel=1e-6)
