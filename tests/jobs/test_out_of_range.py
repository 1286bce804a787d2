"""A question whose cheapest answer no formula covers is a wrong file, told at its targets."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.errors import SpecError
from formulate.jobs.solve import solve_bottle
from tests.jobs.restricted_kitchen import bottle


def test_a_drink_of_nearly_all_sugar_is_outside_the_density_tables(tmp_path: Path) -> None:
    # ICUMSA SPS-4 ends at 85 % of dissolved solids by mass; sugar is cheap, water is not let in.
    path = bottle(tmp_path, ["citric-acid"], targets="")
    text = path.read_text("utf-8").replace("28 ± 0.3 % vol", "at most 5 % vol")
    text = text.replace("180 ± 5 g/L", "at least 1200 g/L").replace("- water\n", "- water: {at_most: 1 g}\n")
    path.write_text(text, "utf-8")
    with pytest.raises(SpecError, match="cannot be worked out: volume_l: dissolved mass fraction") as caught:
        solve_bottle(path)
    (problem,) = caught.value.problems
    assert problem.path == "targets"
    assert problem.location is not None
    assert problem.location.line == 5
