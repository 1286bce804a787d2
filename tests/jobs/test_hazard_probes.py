"""Hazards typed as people type them: each is refused, limited or told to guests, and what is harmless is not.

Which plant does what: HMPC monographs, BfR and EFSA opinions, Reg. (EC) 1334/2008 and poison centre reports,
from memory unless a row of the standards says more; names elsewhere from floras and pharmacopoeias.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formulate.bar.opening import open_pantry
from formulate.bar.serve import serve_of
from formulate.describe.poured import care_of
from formulate.describe.records import DrinkRecord
from formulate.errors import Note, SpecError
from formulate.files.cautions import caution_rules
from formulate.files.drink import load_drink
from formulate.files.library import Library
from formulate.files.limit_rows import known_plants
from formulate.jobs.jar import predict_jar
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.planning.house_bottles import with_house_of
from formulate.report.rules_text import caution_lines
from tests.jobs.restricted_kitchen import write

REFUSED = "refused"
DRY = "composition: {water: 10 % w/w, other_soluble: 20 % w/w, insoluble: 70 % w/w}"


def shelf(folder: Path, name: str, given: str, where: str = "EU", more: str = "") -> None:
    """Write a shelf with one thing of the bar's own."""
    own = f"ingredients:\n  {name}: {{{given}, {DRY}}}\n"
    prices = f"offers:\n  vodka-40: {{price: 9 EUR/L}}\n  {name}: {{price: 20 EUR/kg}}\n"
    write(folder, "shelf.yaml", f"currency: EUR\njurisdiction: {where}\n{prices}{own}{more}")


def drunk(folder: Path, name: str, much: str = "0.02 g", spirit: str = "1 kg") -> DrinkRecord:
    """Predict spirit, or water, with a little of something in it."""
    lines = f"  - vodka-40: {{amount: {spirit}}}\n  - {name}: {{amount: {much}}}\n"
    path = write(folder, "r.yaml", f"recipe: Try\nshelf: shelf.yaml\ningredients:\n{lines}")
    return predict_recipe(path)


def told(folder: Path, name: str, given: str, where: str = "EU") -> set[str]:
    """Return the codes of the cautions, or that it is refused."""
    shelf(folder, name, given, where)
    try:
        record = drunk(folder, name)
    except SpecError:
        return {REFUSED}
    return {note.code for note in record.cautions}


# ---- 60 and more probes -----------------------------------------------------------------------------

PROBES = [
    # id, what is given, what guests must hear, or that it is refused.
    ("red-bark", "name: Red bark, latin: Cinchona pubescens", {"cinchona_medicines", "pregnancy"}),
    ("red-bark", "name: Red bark", {"cinchona_medicines", "pregnancy"}),
    ("fever-tree", "name: 'Bark, from the fever tree', latin: C. officinalis L.", {"cinchona_medicines"}),
    ("chinarinde", "name: Chinarinde", {"cinchona_medicines", "pregnancy"}),
    ("corteccia", "name: Corteccia di china", {"cinchona_medicines"}),
    ("kina", "name: Kina, latin: Remijia pedunculata", {"cinchona_medicines"}),
    ("herb-7", "name: Herb seven, latin: Artemisia absinthium", {"epilepsy", "pregnancy", "daisy_family"}),
    ("wermut", "name: Wermutkraut", {"epilepsy", "pregnancy"}),
    ("ajenjo", "name: Ajenjo", {"epilepsy", "pregnancy"}),
    ("grande", "name: Grande absinthe", {"epilepsy", "pregnancy"}),
    ("genepi", "name: Génépi, latin: Artemisia umbelliformis", {"epilepsy", "pregnancy", "daisy_family"}),
    ("mugwort", "name: Mugwort tips", {"epilepsy", "daisy_family"}),
    ("southernwood", "name: Southernwood", {"epilepsy", "pregnancy"}),
    ("salbei", "name: Salbeiblätter", set[str]()),
    ("salbei", "name: 'Salbei, Blatt'", {"epilepsy", "pregnancy"}),
    ("thuja", "name: Tips, latin: Thuja occidentalis", {"epilepsy", "pregnancy"}),
    ("tansy", "name: Rainfarn", {"epilepsy", "pregnancy", "daisy_family"}),
    ("hyssop", "name: Ysop", {"epilepsy", "pregnancy"}),
    ("big-citrus", "name: Yellow fruit, latin: Citrus paradisi", {"grapefruit_medicines"}),
    ("pamplemousse", "name: Pamplemousse rose", {"grapefruit_medicines"}),
    ("orange-2", "name: Peel, latin: Citrus aurantium", {"grapefruit_medicines", "heart"}),
    ("pomeranze", "name: 'Pomeranze, Schale'", {"grapefruit_medicines", "heart"}),
    ("bergamotto", "name: Bergamotto", {"grapefruit_medicines", "photosensitivity"}),
    ("sweet-root", "name: Sweet root, latin: Glycyrrhiza glabra", {"heart", "plants_medicines", "pregnancy"}),
    ("reglisse", "name: Bâton de réglisse", {"heart", "plants_medicines"}),
    ("hard-hay", "name: Hard hay, latin: Hypericum perforatum", {"st_johns_wort", "photosensitivity"}),
    ("johanniskraut", "name: Johanniskraut", {"st_johns_wort"}),
    ("gamander", "name: Edelgamander", {"liver", "pregnancy"}),
    ("herb-2", "name: Herb two, latin: Teucrium chamaedrys", {"liver"}),
    ("poleo", "name: Menta poleo", {"liver", "pregnancy"}),
    ("mint-2", "name: Mint two, latin: Mentha pulegium", {"liver", "pregnancy", "epilepsy"}),
    ("senna-pods", "name: Pods, latin: Senna alexandrina", {"strong_laxative", "pregnancy"}),
    ("sennesblatter", "name: Sennesblätter", {"strong_laxative"}),
    ("aloe", "name: Aloe", {"strong_laxative", "pregnancy"}),
    ("bourdaine", "name: Écorce de bourdaine", {"strong_laxative"}),
    ("cascara", "name: Cascara sagrada", {"strong_laxative"}),
    ("rabarbaro", "name: Rabarbaro", {"laxative", "pregnancy"}),
    ("root-9", "name: Root nine, latin: Rheum palmatum", {"laxative"}),
    ("tonka", "name: Tonkabohne", {"plants_medicines"}),
    ("waldmeister", "name: Waldmeister", {"plants_medicines"}),
    ("gentiane", "name: Gentiane jaune", {"pregnancy", "ulcer_and_bile", "look_alike"}),
    ("root-3", "name: Root three, latin: Gentiana lutea", {"pregnancy", "ulcer_and_bile"}),
    ("engelwurz", "name: Engelwurz", {"photosensitivity", "pregnancy"}),
    ("ruta", "name: Ruta", {"pregnancy", "photosensitivity"}),
    ("muscade", "name: Noix de muscade", {"pregnancy"}),
    ("baldrian", "name: Baldrian", {"drowsy"}),
    ("passion", "name: Herb, latin: Passiflora incarnata", {"drowsy", "pregnancy"}),
    ("borretsch", "name: Borretsch", {"liver"}),
    ("kamille", "name: Kamille", {"daisy_family"}),
    ("guayusa", "name: Guayusa", {"caffeine"}),
    ("leaf-4", "name: Leaf four, latin: Ilex paraguariensis", {"caffeine"}),
    ("miele", "name: Miele di castagno", {"infants"}),
    ("crab-apple-stone", "name: Blackthorn, latin: Prunus spinosa", {"stone_fruit"}),
    ("kirschlorbeer", "name: Kirschlorbeer", {"raw_kernels"}),
    ("holunderbeere", "name: Holunderbeere", {"raw_elderberry", "look_alike"}),
    ("green-j", "name: Green J, latin: Juglans regia", {"allergens"}),
    ("ground-pea", "name: Ground pea, latin: Arachis hypogaea", {"allergens"}),
    ("farro", "name: Farro perlato", {"allergens"}),
    ("creme-fraiche", "name: Crème fraîche", {"allergens", "dairy"}),
    ("dashi", "name: Dashi", {"allergens"}),
    ("peanut-spirit", "name: Peanut distillate", {"allergens"}),
    ("moon-herb", "name: Herb of the moon, family: herb", {"unknown_plant"}),
    ("zapote-bark", "name: Zapote bark", {"unknown_plant"}),
    ("leaf-5", "name: Mint, latin: Somnia mendax", {"unknown_plant"}),
    ("lotus", "name: Desert lotus tincture", {"unknown_plant"}),
    ("tomato-leaf", "name: Tomato leaf", {"unknown_plant"}),
    ("peach-leaf", "name: Peach leaves", {"raw_kernels"}),
    ("elder-leaf", "name: Elder leaf", {"raw_kernels", "look_alike"}),
    ("arnika", "name: Arnika, latin: Arnica montana", {"heart", "daisy_family"}),
    ("potato-leaf", "name: Potato leaves", {REFUSED}),
    ("cassava", "name: Raw cassava", {REFUSED}),
    ("root-8", "name: Root, latin: Caulophyllum thalictroides", {REFUSED}),
    ("wild-ginger", "name: Wild ginger", {REFUSED}),
    ("ginger-2", "name: Ginger, latin: Asarum canadense", {REFUSED}),
    ("yohimbe-2", "name: Bark, latin: Pausinystalia yohimbe", {REFUSED}),
    ("awa", "name: Root, latin: Piper methysticum", {REFUSED}),
    ("larkspur", "name: Rittersporn", {REFUSED}),
    ("alpenrose", "name: Alpenrose", {REFUSED}),
    ("attich", "name: Berries, latin: Sambucus ebulus", {REFUSED}),
    ("dulcamara", "name: Douce-amère", {REFUSED}),
    ("iboga", "name: Root, latin: Tabernanthe iboga", {REFUSED}),
    ("poppy-heads", "name: Poppy heads", {REFUSED}),
    ("bucaneve", "name: Bucaneve", {REFUSED}),
    ("pestwurz", "name: Pestwurz", {REFUSED}),
    ("leaves-of-three", "name: Leaves of three, latin: Toxicodendron radicans", {REFUSED}),
    ("tollkirsche", "name: Tollkirsche", {REFUSED}),
    ("fingerhut", "name: Fingerhut", {REFUSED}),
    ("cicuta", "name: Cicuta", {REFUSED}),
    ("qat", "name: Qat", {REFUSED}),
    ("hortensie", "name: Hortensie", {REFUSED}),
    ("glyzine", "name: Blüte, latin: Wisteria sinensis", {REFUSED}),
    ("kingcup", "name: Kingcup", {REFUSED}),
    ("mad-honey", "name: Mad honey", {REFUSED}),
    ("squill", "name: Squill", {REFUSED}),
]


@pytest.mark.parametrize(
    ("name", "given", "must"), PROBES, ids=lambda one: one if isinstance(one, str) else ""
)
def test_each_hazard_is_told_or_refused(tmp_path: Path, name: str, given: str, must: set[str]) -> None:
    assert must <= told(tmp_path, name, given)


def test_there_are_sixty_probes_and_thirty_look_alikes() -> None:
    assert len([one for one in PROBES if one[2]]) >= 60
    assert len(HARMLESS) >= 30


GUEST_CODES = {row.id.replace("-", "_") for row in caution_rules().rows if row.place == "serving"}

HARMLESS = [
    ("roman-chamaemelum-free", "name: Rosemary, latin: Salvia rosmarinus"),
    ("clary", "name: Clary sage"),
    ("chia", "name: Chia, latin: Salvia hispanica"),
    ("tarragon", "name: Tarragon, latin: Artemisia dracunculus"),
    ("speedwell", "name: Germander speedwell"),
    ("ceylon", "name: Quills, latin: Cinnamomum verum"),
    ("sea-buckthorn", "name: Sea buckthorn juice"),
    ("aloe-wood", "name: Aloe wood chips"),
    ("bergamot-mint", "name: Bergamot mint"),
    ("orange-blossom", "name: Bitter orange blossom water"),
    ("sweet-orange", "name: Peel, latin: Citrus sinensis"),
    ("lemon-verbena", "name: Lemon verbena, latin: Aloysia citrodora"),
    ("anise-hyssop", "name: Anise hyssop"),
    ("spruce", "name: Hemlock spruce tips"),
    ("poppy-seed", "name: Poppy seed"),
    ("passion-fruit", "name: Passion fruit, latin: Passiflora edulis"),
    ("lime-flower", "name: Linden flower tea"),
    ("rooibos", "name: Rooibos tea"),
    ("coconut", "name: Coconut flakes, latin: Cocos nucifera"),
    ("chestnut", "name: Roasted chestnut"),
    ("rice-syrup", "name: Rice syrup"),
    ("peppermint", "name: Pfefferminze"),
    ("basil", "name: Basilikum"),
    ("thyme", "name: Herb, latin: Thymus vulgaris"),
    ("rose", "name: Rose petals, latin: Rosa damascena"),
    ("lavande", "name: Lavande"),
    ("himbeere", "name: Himbeere"),
    ("quince", "name: Fruit, latin: Cydonia oblonga"),
    ("cardamome", "name: Cardamome"),
    ("oak", "name: Chips, latin: Quercus petraea"),
    ("spruce-2", "name: Spruce tips, latin: Picea abies"),
    ("elder-2", "name: Elderflower, latin: Sambucus nigra"),
    ("hops-2", "name: Hopfen"),
    ("gum", "name: Gum arabic"),
    ("honeybush", "name: Honeybush"),
    ("wheatless", "name: Buckwheat"),
    ("oyster-mushroom", "name: Oyster mushroom"),
    ("syrup-1", "name: Summer syrup"),
]


@pytest.mark.parametrize(("name", "given"), HARMLESS, ids=str)
def test_what_is_harmless_draws_nothing_about_guests(tmp_path: Path, name: str, given: str) -> None:
    assert told(tmp_path, name, given) & (GUEST_CODES | {REFUSED}) == set()


def test_a_plant_of_the_library_under_another_id_draws_what_the_library_draws(tmp_path: Path) -> None:
    """Nothing but the botanical name is left of it; the guests hear the same."""
    tried = 0
    for one in Library.built_in().all():
        if not one.latin or one.family in ("fruit", "citrus", "juice"):
            continue
        shelf(tmp_path, "herb-1", f"name: Herb, latin: {one.latin}", "EU")
        own = {note.code for note in drunk(tmp_path, "herb-1").cautions} & GUEST_CODES
        library = {note.code for note in drunk(tmp_path, one.id).cautions} & GUEST_CODES
        assert library <= own, one.id
        tried += 1
    assert tried > 30


def test_every_plant_of_the_register_names_cautions_that_there_are() -> None:
    rules = {row.id: row for row in caution_rules().rows}
    for row in known_plants().rows:
        assert all(rules[name].when.plants for name in row.cautions), row.id


# ---- the same in a tincture of a tincture, a jar, a glass and a menu ----------------------------------

NESTED = """\
house_made:
  drops: {recipe: drops.yaml}
  cordial: {recipe: cordial.yaml}
"""


def nested(folder: Path, name: str, given: str) -> None:
    """Write a tincture, and a cordial that holds it, for the shelf."""
    shelf(folder, name, given, more=NESTED)
    for made, spirit, what, much in (("drops", 100, name, 0.2), ("cordial", 900, "drops", 50)):
        lines = f"  - vodka-40: {{amount: {spirit} g}}\n  - {what}: {{amount: {much} g}}\n"
        write(folder, f"{made}.yaml", f"recipe: Made here\nshelf: shelf.yaml\ningredients:\n{lines}")


HIDDEN = [
    ("red-bark", "name: Red bark, latin: Cinchona pubescens", "cinchona_medicines"),
    ("herb-7", "name: Herb seven, latin: Artemisia absinthium", "epilepsy"),
    ("big-citrus", "name: Yellow fruit, latin: Citrus paradisi", "grapefruit_medicines"),
    ("gamander", "name: Edelgamander", "liver"),
    ("sennesblatter", "name: Sennesblätter", "strong_laxative"),
    ("moon-herb", "name: Herb of the moon, family: herb", "unknown_plant"),
    ("green-j", "name: Green J, latin: Juglans regia", "allergens"),
]


@pytest.mark.parametrize(("name", "given", "code"), HIDDEN, ids=str)
def test_what_is_two_tinctures_deep_is_told_of_every_drink(
    tmp_path: Path, name: str, given: str, code: str
) -> None:
    nested(tmp_path, name, given)
    lines = "ingredients:\n  - vodka-40: {amount: 500 g}\n  - cordial: {amount: 300 g}\n"
    jar = write(tmp_path, "jar.yaml", f"jar: Glass 4\nshelf: shelf.yaml\ncame_out: 750 g\n{lines}")
    lines = "ingredients:\n  - vodka-40: 30 mL\n  - cordial: 20 mL\n"
    glass = write(tmp_path, "glass.yaml", f"drink: Hour\nshelf: shelf.yaml\nmethod: stirred\n{lines}")
    drink = load_drink(glass)
    serve = serve_of(drink, with_house_of(drink, open_pantry(drink.shelf_path, drink.places)))
    for cautions in (
        predict_jar(jar).drink.cautions,
        pour_drink(glass).cautions,
        care_of([serve, serve])[1],  # as a menu tells it
    ):
        (note,) = [one for one in cautions if one.code == code]
        assert f"{name} (in cordial)" in note.about or code == "allergens"
        # Shown on the first screen, whatever else there is.
        assert " ".join(note.short.split()) in " ".join(" ".join(caution_lines(cautions)).split())


def test_a_poisonous_plant_is_refused_two_tinctures_deep(tmp_path: Path) -> None:
    nested(tmp_path, "attich", "name: Berries, latin: Sambucus ebulus")
    with pytest.raises(SpecError, match=r"cordial may not be used\. Dwarf elder is poisonous"):
        drunk(tmp_path, "cordial", "10 g")


# ---- what is said -------------------------------------------------------------------------------------

TOXIC = {"strong-laxative", "liver", "epilepsy", "raw-kernels", "pregnancy", "laxative", "drowsy", "heart"}
AMOUNT = re.compile(r"\d+(?:\.\d+)? ?(?:mg|g|mL|drops?|leaves|beans)\b(?! a day)")


def test_no_caution_about_something_toxic_tells_a_dose() -> None:
    for row in caution_rules().rows:
        if row.id in TOXIC or row.place == "serving":
            texts = (row.short, row.says, row.on_menu or "")
            found = [
                text for text in texts if AMOUNT.search(text) and row.id not in ("sulphites", "caffeine")
            ]
            assert not found, row.id


def test_cautions_to_guests_fit_one_or_two_lines() -> None:
    for row in caution_rules().rows:
        if row.place == "serving":
            assert len(row.short.format_map(_Names())) <= 120, row.id
            assert "!" not in row.short


class _Names(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "wormwood-herb" if key == "names" else ""


# ---- limits that were missing: at, just under, just over -------------------------------------------------


def over(folder: Path, name: str, given: str, much: str, where: str, spirit: str = "1 kg") -> dict[str, bool]:
    """Return the limits on a drink, each with whether it is broken."""
    shelf(folder, name, given, where)
    record = drunk(folder, name, much, spirit)
    assert record.law is not None
    return {cap.rule: cap.over for cap in record.law.caps}


def measured(substance: str, mg_g: float) -> str:
    return (
        f"name: Plant, restricted: {{{substance}: {mg_g} mg/g}}, "
        "sources: [{figures: [restricted], source: sheet 7, confidence: measured here}]"
    )


@pytest.mark.parametrize(
    ("rule", "substance", "most", "where", "weak"),
    [
        ("us-teucrin-a", "teucrin-a", 2.0, "US", False),
        ("us-pulegone", "pulegone", 100.0, "US", False),
        ("us-glycyrrhizin", "glycyrrhizic-acid", 1000.0, "US", False),
        ("old-aloin-soft", "aloin", 0.1, "EU", True),
        ("old-berberine-soft", "berberine", 0.1, "EU", True),
        ("old-hypericin-soft", "hypericin", 0.1, "EU", True),
        ("old-agaric-acid-soft", "agaric-acid", 20.0, "EU", True),
        ("old-safrole-soft", "safrole", 1.0, "US", True),
        ("old-santonin-strong", "santonin", 1.0, "EU", False),
        ("old-santonin", "santonin", 0.1, "EU", True),
        ("eu-quinine-soft", "cinchona-alkaloids", 100.0, "EU", True),
        ("eu-quinine", "cinchona-alkaloids", 250.0, "EU", False),
    ],
)
def test_a_limit_holds_at_its_figure(
    tmp_path: Path, rule: str, substance: str, most: float, where: str, weak: bool
) -> None:
    """Directive 88/388/EEC Annex II, Reg. (EU) 872/2012 FL 14.011 and the rows named here: mg/kg of drink."""
    for share, broken in ((0.999, False), (1.0, False), (1.001, True)):
        # Ten grams of the plant in a kilogram; its water and what dissolves of it, 30 %, join the liquor.
        liquor = 1003.0 - 1e-9
        given = measured(substance, share * most * liquor / 10.0 / 1000.0)
        shelf(tmp_path, "plant-1", given, where)
        base = "water" if weak else "vodka-40"
        lines = f"  - {base}: {{amount: 1 kg}}\n  - plant-1: {{amount: 10 g}}\n"
        path = write(tmp_path, "r.yaml", f"recipe: Try\nshelf: shelf.yaml\ningredients:\n{lines}")
        law = predict_recipe(path).law
        assert law is not None
        caps = {cap.rule: cap.over for cap in law.caps}
        assert caps[rule] is broken, (share, caps)


@pytest.mark.parametrize(
    ("lines", "most"),
    [
        ("  - vodka-40: {amount: 600 g}\n  - water: {amount: 400 g}\n", 250.0),  # about 24 % vol
        ("  - vodka-40: {amount: 300 g}\n  - water: {amount: 700 g}\n", 100.0),  # about 12 % vol
        ("  - vodka-40: {amount: 500 g}\n  - dry-white-wine-12: {amount: 500 g}\n", 100.0),  # no spirit drink
        ("  - water: {amount: 1 kg}\n", 100.0),
    ],
)
def test_quinine_is_limited_by_what_kind_of_drink_it_is_in(tmp_path: Path, lines: str, most: float) -> None:
    """Reg. (EU) 872/2012 FL 14.011: spirit drinks 250 mg/kg, categories 14.1 and 14.2 otherwise 100."""
    for share, broken in ((0.999, False), (1.001, True)):
        shelf(tmp_path, "plant-1", measured("cinchona-alkaloids", share * most), "EU")
        text = f"recipe: Try\nshelf: shelf.yaml\ningredients:\n{lines}  - plant-1: {{amount: 1 g}}\n"
        law = predict_recipe(write(tmp_path, "r.yaml", text)).law
        assert law is not None
        assert law.broken is broken


def test_germander_pennyroyal_and_senna_are_limited_in_the_us(tmp_path: Path) -> None:
    for name, much, rule in (
        ("germander", "20 g", "us-teucrin-a"),
        ("pennyroyal", "10 g", "us-pulegone"),
        ("senna-leaf", "50 g", "laxative-serve"),
    ):
        assert over(tmp_path, name, "name: Herb", much, "US")[rule]


def test_notes_are_calm(tmp_path: Path) -> None:
    shelf(tmp_path, "moon-herb", "name: Herb of the moon, family: herb")
    note: Note
    (note,) = [one for one in drunk(tmp_path, "moon-herb").cautions if one.code == "unknown_plant"]
    assert note.short == "moon-herb: not known here; nobody has checked that it is safe or lawful."


@pytest.mark.parametrize(
    ("name", "given", "code"),
    [
        ("house-soda", "name: Soda water", "sparkling"),
        ("cava", "name: Cava brut", "sparkling"),
        ("tonic", "name: Tonic water", "sparkling"),
        ("white", "name: Egg white", "raw_egg"),
        ("blanc", "name: Blanc d'œuf", "raw_egg"),
        ("bacon-fat", "name: Bacon fat", "oil_infusion"),
        ("rhubarb", "name: Rhubarb", "rhubarb_leaves"),
        ("kernels", "name: Apricot kernels", "raw_kernels"),
    ],
)
def test_a_drink_tells_of_pressure_and_of_raw_food(tmp_path: Path, name: str, given: str, code: str) -> None:
    shelf(tmp_path, name, given)
    lines = f"ingredients:\n  - vodka-40: 40 mL\n  - {name}: 0.2 g\n"
    glass = write(tmp_path, "glass.yaml", f"drink: Hour\nshelf: shelf.yaml\nmethod: built\n{lines}")
    assert code in {note.code for note in pour_drink(glass).cautions}


def test_a_garnish_that_is_only_a_name_is_known_by_it(tmp_path: Path) -> None:
    shelf(tmp_path, "x-1", "name: Syrup")
    lines = "ingredients:\n  - vodka-40: 40 mL\ngarnish:\n  - {}: {{price: 0.10 EUR}}\n"
    head = "drink: Hour\nshelf: shelf.yaml\nmethod: stirred\n"
    with pytest.raises(SpecError, match="oleander-flower may not be used"):
        pour_drink(write(tmp_path, "glass.yaml", head + lines.format("oleander-flower")))
    wormwood = pour_drink(write(tmp_path, "glass.yaml", head + lines.format("wormwood-sprig"))).cautions
    assert {"epilepsy", "pregnancy"} <= {note.code for note in wormwood}
    assert not pour_drink(write(tmp_path, "glass.yaml", head + lines.format("lemon-twist"))).cautions
