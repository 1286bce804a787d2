"""JSON Schema of the files, for editors: what a person writes, not what the package holds."""

from __future__ import annotations

from typing import Any, Literal

from formulate.files.bottle import Bottle
from formulate.files.count import Count
from formulate.files.drink import Drink
from formulate.files.ingredient import Ingredient
from formulate.files.jar import Jar
from formulate.files.menu import Menu
from formulate.files.models import FileModel
from formulate.files.reading import ReadingFile
from formulate.files.recipe import Recipe
from formulate.files.scenarios import Scenarios
from formulate.files.shelf import Shelf
from formulate.files.trial import Trial

__all__ = ["json_schema"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_ID = {"type": "string", "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$"}
# List items written as a plain name or as a name with details: model, key that holds the name, plain allowed.
_NAMED_ITEMS = {"IngredientUse": ("id", True), "StepSpec": ("name", True), "RecipeLine": ("id", False)}
_NAMED_ITEMS |= {"DrinkLine": ("id", False), "GarnishLine": ("id", False)}
_SHORT_ITEMS = frozenset({"DrinkLine", "GarnishLine"})
"""List items whose one value may stand for the amount: ``gin-40: 45 mL``."""

Kind = Literal[
    "bottle",
    "shelf",
    "recipe",
    "jar",
    "reading",
    "trial",
    "drink",
    "menu",
    "scenarios",
    "count",
    "ingredients",
]


def json_schema(kind: Kind) -> dict[str, Any]:
    """Describe one kind of file as JSON Schema 2020-12.

    Parameters
    ----------
    kind : str
        ``bottle``, ``shelf``, ``recipe``, ``jar``, ``reading``, ``trial``, ``drink``, ``menu``,
        ``scenarios``, ``count`` or ``ingredients`` (a library file).

    Returns
    -------
    dict
        A new schema; quantities are texts with a unit, described and with examples.
    """
    if kind == "ingredients":
        schema = _tidy(Ingredient.model_json_schema(by_alias=True))
        entry = {key: value for key, value in schema.items() if key != "$defs"}
        for inner in ("id", "family", "based_on", "overrides"):
            entry["properties"].pop(inner)
        entry["required"].remove("id")
        schema = {
            "type": "object",
            "properties": {
                "family": {
                    "type": "string",
                    "minLength": 1,
                    "description": "Kind of every ingredient in the file.",
                },
                "ingredients": {
                    "type": "object",
                    "additionalProperties": {"$ref": "#/$defs/Ingredient"},
                    "propertyNames": _ID,
                },
            },
            "required": ["family", "ingredients"],
            "additionalProperties": False,
            "$defs": {**schema["$defs"], "Ingredient": entry},
        }
    else:
        models: dict[str, type[FileModel]]
        models = {
            "bottle": Bottle,
            "shelf": Shelf,
            "recipe": Recipe,
            "jar": Jar,
            "reading": ReadingFile,
            "trial": Trial,
            "drink": Drink,
            "menu": Menu,
            "scenarios": Scenarios,
            "count": Count,
        }
        model = models[kind]
        schema = _tidy(model.model_json_schema(by_alias=True))
    definitions = schema.get("$defs", {})
    for name, (key, plain) in _NAMED_ITEMS.items():
        if name in definitions:
            _as_named_item(definitions, name, key, plain=plain)
    for name in ("Targets", "ChangedTargets"):
        if name in definitions:
            attributes = definitions[name]["properties"].pop("attributes")
            definitions[name]["additionalProperties"] = attributes["additionalProperties"]
            definitions[name]["minProperties"] = 1
    if kind == "shelf":
        offer = {"$ref": "#/$defs/Offer"}
        for key in ("offers", "supplies"):
            schema["properties"][key]["additionalProperties"] = _one_or_more(offer)
    if kind == "menu":
        house = definitions["HouseBottle"]["properties"]
        house["vessel"] = {**house["vessel"], **_one_or_more(_ID)}
        del house["vessel"]["type"], house["vessel"]["items"]
        for key in ("closed", "makes_on"):
            several = schema["properties"][key]
            schema["properties"][key] = {
                "description": several["description"],
                **_one_or_more(several["items"]),
            }
    if kind == "shelf":
        terms = definitions["Supplier"]["properties"]
        for key in ("orders_on", "delivers_on"):
            terms[key] = {"description": terms[key]["description"], **_one_or_more(terms[key]["items"])}
    return {"$schema": DIALECT, "title": f"{kind} file", **schema}


def _one_or_more(one: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}


def _as_named_item(definitions: dict[str, Any], name: str, key: str, *, plain: bool) -> None:
    details = definitions[name]
    details["properties"].pop(key)
    details["required"] = [other for other in details.get("required", []) if other != key]
    definitions[f"{name}Details"] = details
    value: dict[str, Any] = {"$ref": f"#/$defs/{name}Details"}
    if name in _SHORT_ITEMS:
        value = {"anyOf": [details["properties"]["amount"], value]}
    one = {
        "type": "object",
        "additionalProperties": value,
        "propertyNames": _ID,
        "minProperties": 1,
        "maxProperties": 1,
    }
    definitions[name] = {"anyOf": [_ID, one]} if plain else one


def _tidy(schema: dict[str, Any]) -> dict[str, Any]:
    """Drop what only the package needs: titles, defaults in canonical units, and empty values."""
    tidy: dict[str, Any] = {}
    for key, value in schema.items():
        if key in ("title", "default"):
            continue
        if key in ("properties", "$defs"):
            tidy[key] = {name: _tidy(child) for name, child in value.items()}
        elif key == "anyOf":
            choices = [_tidy(choice) for choice in value if choice != {"type": "null"}]
            if len(choices) == 1:
                tidy |= {**choices[0], **tidy}
            else:
                tidy[key] = choices
        elif isinstance(value, dict):
            tidy[key] = _tidy(value)
        else:
            tidy[key] = value
    return tidy
