"""Records to documents: one rule for units, what a field says of itself, nothing that JSON cannot hold."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from conftest import RunCommand

from formulate.describe.records import BarMeasure, RecipeLineRecord
from formulate.errors import Note, SourceLocation
from formulate.quantity.document import HIDDEN, Cautioned, Record, Result, computed, in_full, shown
from tests.commands import EXAMPLES


@dataclass(frozen=True, slots=True)
class Jug:
    """Held by others; not a `Record` itself."""

    name: str
    holds_l: float


@dataclass(frozen=True, slots=True)
class Line(Record):
    """With every way of showing a field."""

    name: str = field(metadata=shown("ingredient"))
    mass_kg: float
    price_per_kg: float
    melt_l: float = field(metadata=shown("melt_ml"))
    bottled_l: float = field(metadata=shown("bottle.volume_l"))
    strength: float = field(metadata=shown("bottle.strength_pct_vol"))
    tare_kg: float = field(metadata=shown("bottle.tare_kg"))
    jug: Jug | None = field(metadata=shown(""))
    other: Jug | None = field(metadata=shown(only=("holds_l",)))
    added: tuple[tuple[str, float], ...] = field(metadata=shown(rows=("ingredient", "mass_kg")))
    note: str = field(default="", metadata=shown(if_any=True))
    secret: object = field(default=None, metadata=HIDDEN)

    @property
    @computed(after="mass_kg")
    def double_kg(self) -> float:
        """Shown too."""
        return 2.0 * self.mass_kg

    @property
    def unseen(self) -> float:
        """Not shown."""
        return 0.0


LINE = Line("damson", 0.25, 4.0, 0.03, 0.7, 22.0, 0.4, Jug("jug", 2.0), None, (("sugar", 0.5),))


def test_every_field_is_shown_as_it_says() -> None:
    assert LINE.to_dict() == {
        "ingredient": "damson",
        "mass_g": 250.0,
        "double_g": 500.0,
        "price_per_kg": 4.0,
        "melt_ml": 30.0,
        "bottle": {"volume_l": 0.7, "strength_pct_vol": 22.0, "tare_kg": 0.4},
        "name": "jug",
        "holds_l": 2.0,
        "other": None,
        "added": [{"ingredient": "sugar", "mass_g": 500.0}],
    }
    assert list(LINE.to_dict())[:3] == ["ingredient", "mass_g", "double_g"]


def test_what_is_not_there_leaves_no_trace_where_it_would_stand_beside_others() -> None:
    bare = replace(LINE, jug=None, note="pressed", other=Jug("pan", 3.0)).to_dict()
    assert "holds_l" not in bare
    assert bare["other"] == {"holds_l": 3.0}
    assert bare["note"] == "pressed"


@dataclass(frozen=True)
class Told(Cautioned):
    """As a command answers."""

    status: str = field(default="told", init=False)
    when: date
    figures: Mapping[str, Any]
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    cautions: tuple[Note, ...] = field(metadata=shown(by=in_full))


def test_an_answer_begins_with_its_version_and_holds_only_what_json_can() -> None:
    hot = Note("heat", "Mind the flame.", "from memory", short="Flame!", place="heating", rank=1)
    figures = {
        "inf": np.inf,
        "nan": float("nan"),
        "np": np.float64(0.5),
        "count": np.int64(3),
        "all": (1, 2),
    }
    document = Told(date(2026, 11, 25), figures, (Note("dry", "It is dry."),), (hot,)).to_dict()
    assert list(document)[:2] == ["schema_version", "status"]
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert document["when"] == "2026-11-25"
    assert document["figures"] == {"inf": None, "nan": None, "np": 0.5, "count": 3, "all": [1, 2]}
    assert [warning["code"] for warning in document["warnings"]] == ["dry", "heat"]
    assert document["cautions"] == [
        {
            "code": "heat",
            "text": "Mind the flame.",
            "source": "from memory",
            "short": "Flame!",
            "place": "heating",
            "rank": 1,
            "for_guests": False,
        }
    ]


def test_a_thing_nobody_said_how_to_show_is_refused() -> None:
    @dataclass(frozen=True)
    class Odd(Result):
        thing: object

    assert Odd(SourceLocation("a.yaml", 1, 2)).to_dict()["thing"] == "a.yaml:1:2"
    with pytest.raises(TypeError, match="no place in a document"):
        Odd(object()).to_dict()


def test_a_mass_is_never_shown_in_another_unit_than_its_name_says() -> None:
    line = RecipeLineRecord(
        "water", "Water", "finish", 1.25, BarMeasure("1.25 L", has_volume=True), None, running_total_kg=2.5
    )
    assert line.to_dict() == {
        "ingredient": "water",
        "step": "finish",
        "mass_g": 1250.0,
        "measure": "1.25 L",
        "cost": None,
        "running_total_g": 2500.0,
    }


def test_the_document_of_a_command_is_the_record_of_its_job(run_here: RunCommand) -> None:
    from formulate.jobs.predict import predict_recipe

    recipe = EXAMPLES / "recipes" / "damson-aperitif.yaml"
    said = json.loads(run_here("predict", recipe, "--json").stdout)
    assert said == predict_recipe(recipe).to_dict()
