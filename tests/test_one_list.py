"""Lists that two rooms need and only one can own: what cannot be imported must at least agree."""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest
from conftest import ROOT

from formulate.blend import separation
from formulate.files import fields, ingredient, search, steps
from formulate.physics import coefficients, components, extraction, kinetics, strength
from formulate.quantity import readings, units


def test_the_rim_knows_every_component_of_the_formulas() -> None:
    assert (*components.COMPONENTS, "pectin", "insoluble") == ingredient.COMPONENTS
    assert search._GROUPS["sugar"] == components.SUGARS
    assert search._GROUPS["acid"] == components.ACIDS


def test_the_rim_knows_every_class_of_plant() -> None:
    assert set(ingredient.PLANT_CLASSES) == set(extraction.CLASS_KINETICS) == set(extraction.CLASS_SUBSTANCE)


def test_the_rim_knows_every_way_to_strain() -> None:
    assert tuple(separation.SEPARATIONS) == steps.SEPARATIONS


def test_sixty_fahrenheit_is_one_temperature() -> None:
    # 27 CFR 30: proof is at 60 °F, 15.56 °C.
    assert readings.SIXTY_F_C == strength.SIXTY_FAHRENHEIT_C == pytest.approx(15.5556, abs=5e-5)


def test_a_step_may_be_no_colder_or_warmer_than_the_formulas_take() -> None:
    assert steps.COLDEST_C == coefficients.OIML_COLDEST_C
    assert kinetics.COLDEST_C <= steps.COLDEST_C < steps.HOTTEST_C <= kinetics.HOTTEST_C


@pytest.mark.parametrize("text", ["short", "a" * 200, "  two \n lines "])
def test_a_text_is_shortened_alike_everywhere(text: str) -> None:
    assert fields.shown(text) == units.shown(text)


def test_files_are_read_without_the_array_library() -> None:
    # The names of the components are all that the rim takes from the formulas: they load nothing.
    code = (
        "import sys; import formulate.files.bottle, formulate.files.ingredient, formulate.files.shelf; "
        "print('numpy' in sys.modules, 'formulate.physics.components' in sys.modules)"
    )
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.split() == ["False", "True"]


# It speaks of one thing that was split for length: a drink with its components.
SPEAKS_FOR = {"mixture.py": "formulate.physics.components"}


def test_no_formula_has_two_public_homes() -> None:
    """What a module of the formulas lists as public it defines itself, `SPEAKS_FOR` aside."""
    foreign = []
    for path in sorted((ROOT / "formulate" / "physics").glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        public = {
            name.value
            for node in tree.body
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
            for name in ast.walk(node.value)
            if isinstance(name, ast.Constant)
        }
        imported = {
            alias.asname or alias.name
            for node in tree.body
            if isinstance(node, ast.ImportFrom) and node.module != SPEAKS_FOR.get(path.name)
            for alias in node.names
        }
        foreign += [f"{path.name}: {name}" for name in sorted(public & imported)]
    assert foreign == []
