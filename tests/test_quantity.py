"""Reading and writing quantities.

Factors are held against NIST Handbook 44 (2024) Appendix C, "General Tables of Units of Measurement",
and against the units library's own default definitions.
"""

from __future__ import annotations

import math
import pickle
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import UnitError
from formulate.quantity import (
    Band,
    Dimension,
    accepted_units,
    format_quantity,
    parse_amount,
    parse_amount_band,
    parse_band,
    parse_money,
    parse_money_band,
    parse_quantity,
)

HANDBOOK_44 = [  # Appendix C; the volumes and the avoirdupois masses there are exact
    ("1 lb", Dimension.MASS, 0.45359237),
    ("1 oz", Dimension.MASS, 0.028349523125),
    ("1 gal", Dimension.VOLUME, 3.785411784),
    ("1 fl oz", Dimension.VOLUME, 0.0295735295625),
]


@pytest.mark.parametrize(("text", "dimension", "expected"), HANDBOOK_44)
def test_customary_units_are_those_of_handbook_44(text: str, dimension: Dimension, expected: float) -> None:
    assert parse_quantity(text, dimension) == expected


# Spelling here -> expression and target unit of the default registry; temperature and % are apart.
LIBRARY_SPELLING = {
    Dimension.MASS: ({"oz": "ounce", "lb": "pound"}, "kg"),
    Dimension.VOLUME: ({"fl oz": "US_liquid_ounce", "gal": "US_liquid_gallon"}, "L"),
    Dimension.MASS_CONCENTRATION: (
        {
            "g/100mL": "g/dL",
            "oz/gal": "ounce/US_liquid_gallon",
            "lb/gal": "pound/US_liquid_gallon",
            "kg/m3": "kg/m**3",
        },
        "g/L",
    ),
    Dimension.MASS_FRACTION: ({"% w/w": "g/hg", "g/100g": "g/hg"}, "kg/kg"),
    Dimension.TIME: ({"days": "day", "weeks": "week"}, "hour"),
    Dimension.DENSITY: ({"kg/m3": "kg/m**3", "g/cm3": "g/cm**3"}, "kg/m**3"),
    Dimension.RETENTION: ({}, "kg/kg"),
    Dimension.CONTENT: ({"g/100g": "g/hg", "% w/w": "g/hg"}, "g/kg"),
}


@pytest.fixture(scope="module")
def default_registry():  # type: ignore[no-untyped-def]
    import pint

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


@pytest.mark.parametrize(
    ("dimension", "unit"),
    [(dimension, unit) for dimension in LIBRARY_SPELLING for unit in accepted_units(dimension)],
)
def test_every_factor_is_the_units_library_own(default_registry, dimension: Dimension, unit: str) -> None:  # type: ignore[no-untyped-def]
    spelling, target = LIBRARY_SPELLING[dimension]
    expected = default_registry.Quantity(Fraction(1), spelling.get(unit, unit)).to(target).magnitude
    whole = 1000 if dimension is Dimension.CONTENT else 1
    # Half a unit keeps fractions such as kg/kg below the whole; the factor is exact either way.
    assert parse_quantity(f"0.5 {unit}", dimension) == float(Fraction(expected) / 2)
    assert float(expected) <= whole or dimension not in (Dimension.CONTENT, Dimension.MASS_FRACTION)


def test_temperatures_follow_the_definition_of_the_fahrenheit_scale() -> None:
    assert parse_quantity("68 °F", Dimension.TEMPERATURE) == 20.0  # OIML/TTB reference temperatures
    assert parse_quantity("60 degF", Dimension.TEMPERATURE) == pytest.approx(15.5556, abs=5e-5)
    assert parse_quantity("-40 F", Dimension.TEMPERATURE) == parse_quantity("-40 C", Dimension.TEMPERATURE)
    band = parse_band("68 ± 9 °F", Dimension.TEMPERATURE)
    assert (band.lower, band.upper) == (15.0, 25.0)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("70 cl", Dimension.VOLUME, 0.7),
        ("70cl", Dimension.VOLUME, 0.7),
        ("70 CL", Dimension.VOLUME, 0.7),
        ("2 litres", Dimension.VOLUME, 2.0),
        ("1 US gal", Dimension.VOLUME, 3.785411784),
        ("1 gal (US)", Dimension.VOLUME, 3.785411784),
        ("1 fl. oz.", Dimension.VOLUME, 0.0295735295625),
        ("1234.5 g", Dimension.MASS, 1.2345),
        ("1e3 g", Dimension.MASS, 1.0),
        (".5 kg", Dimension.MASS, 0.5),
        ("5\u202fkg", Dimension.MASS, 5.0),
        ("5\u00a0kg", Dimension.MASS, 5.0),
        ("8 g / 100 mL", Dimension.MASS_CONCENTRATION, 80.0),
        ("5 g per litre", Dimension.MASS_CONCENTRATION, 5.0),
        ("40 % vol", Dimension.STRENGTH, 40.0),
        ("40%vol", Dimension.STRENGTH, 40.0),
        ("40 % ABV", Dimension.STRENGTH, 40.0),
        ("1.6 % w/w", Dimension.MASS_FRACTION, 0.016),
        ("30 %", Dimension.SHARE, 0.3),
        ("1064 kg/m³", Dimension.DENSITY, 1064.0),
        ("1.4 mg/g", Dimension.CONTENT, 1.4),
        ("\u221218 °C", Dimension.TEMPERATURE, -18.0),
        ("90 min", Dimension.TIME, 1.5),
        ("2 weeks", Dimension.TIME, 336.0),
        ("12", Dimension.RATIO, 12.0),
        (12, Dimension.RATIO, 12.0),
        (25.5, Dimension.BITTERNESS, 25.5),
    ],
)
def test_quantities_as_a_bar_writes_them(text: object, dimension: Dimension, expected: float) -> None:
    assert parse_quantity(text, dimension) == expected


REFUSED = [
    ("30", Dimension.MASS_CONCENTRATION, "the unit is missing, got 30. Accepted: g/L, mg/L"),
    (30, Dimension.MASS, "the unit is missing, got 30. Accepted: g, kg, mg, oz, lb; e.g. 500 g."),
    (True, Dimension.MASS, "must be a quantity, got true. Write e.g. 500 g."),
    (None, Dimension.MASS, "must be a quantity, got nothing. Write e.g. 500 g."),
    ([], Dimension.MASS, "must be a quantity, got a list. Write e.g. 500 g."),
    ("", Dimension.MASS, "no number found, got nothing."),
    (
        "22 %",
        Dimension.STRENGTH,
        "% alone does not say of what, got 22 %. Write % vol for alcohol by volume or % w/w",
    ),
    ("22 %", Dimension.MASS_FRACTION, "% alone does not say of what"),
    (
        "22 % w/w",
        Dimension.STRENGTH,
        "wrong kind of quantity, got 22 % w/w (mass per mass); expected alcohol by volume",
    ),
    ("22 % vol", Dimension.SHARE, "wrong kind of quantity, got 22 % vol (alcohol by volume); expected share"),
    (
        "30 g/kg",
        Dimension.MASS_CONCENTRATION,
        "wrong kind of quantity, got 30 g/kg (mass per mass); expected mass per volume, e.g. 30 g/L.",
    ),
    ("80 proof", Dimension.STRENGTH, "proof is not a unit here, got 80 proof. Give % vol at 20 °C"),
    ("80 US proof", Dimension.STRENGTH, "Give % vol at 20 °C; `solve --proof` shows proof US too."),
    ("2 dashes", Dimension.VOLUME, "dash is not a unit here, got 2 dashes."),
    ("1,5 g", Dimension.MASS, "a decimal comma, got 1,5 g. Write 1.5 g."),
    ("1,000 g", Dimension.MASS, "Write 1000 g or 1.000 g, whichever is meant."),
    ("1,234.5 g", Dimension.MASS, "a comma inside the number, got 1,234.5 g."),
    ("1 000 g", Dimension.MASS, "digits are not grouped, got 1 000 g. Write 1000 g."),
    ("1_000 g", Dimension.MASS, "digits are not grouped, got 1_000 g. Write 1000 g."),
    ("1/2 oz", Dimension.MASS, "not one number and one unit, got 1/2 oz."),
    ("1.2.3 g", Dimension.MASS, "not one number and one unit"),
    ("nan g", Dimension.MASS, "not a finite number, got nan g."),
    ("-inf g", Dimension.MASS, "not a finite number, got -inf g."),
    ("1e400 g", Dimension.MASS, "a number far outside anything a bar weighs"),
    ("1e-999999999 g", Dimension.MASS, "a number far outside anything a bar weighs"),
    ("9" * 50 + " g", Dimension.MASS, "a number far outside anything a bar weighs"),
    ("5 g" + " " * 10 + "x" * 200, Dimension.MASS, "too long for a quantity"),
    ("-5 g", Dimension.MASS, "must not be negative, got -5 g. Give zero or more."),
    ("-300 C", Dimension.TEMPERATURE, "colder than absolute zero, got -300 C."),
    ("101 % vol", Dimension.STRENGTH, "more than the whole, got 101 % vol. Give at most 100 %."),
    ("1100 g/kg", Dimension.CONTENT, "more than the whole"),
    ("5 grm", Dimension.MASS, "unknown unit grm, got 5 grm."),
    ("5 g/Ltr", Dimension.MASS_CONCENTRATION, "Did you mean g/L?"),
    ("12 mL", Dimension.RATIO, "a ratio is a plain number without a unit, got 12 mL."),
    ("about 5 g", Dimension.MASS, "'about' says no number to work with, got about 5 g. Write 5 g."),
    ("5 ± 1 g", Dimension.MASS, "one value is meant here, not a band, got 5 ± 1 g."),
]


@pytest.mark.parametrize(("text", "dimension", "message"), REFUSED)
def test_quantities_refused_say_what_to_write(text: object, dimension: Dimension, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, dimension)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "dimension", "lower", "upper"),
    [
        ("22 ± 0.3 % vol", Dimension.STRENGTH, 21.7, 22.3),
        ("22 +/- 0.3 % vol", Dimension.STRENGTH, 21.7, 22.3),
        ("22 % vol ± 0.3 % vol", Dimension.STRENGTH, 21.7, 22.3),
        ("170 to 190 g/L", Dimension.MASS_CONCENTRATION, 170.0, 190.0),
        ("170 g/L to 190 g/L", Dimension.MASS_CONCENTRATION, 170.0, 190.0),
        ("900 mg/L to 1.1 g/L", Dimension.MASS_CONCENTRATION, 0.9, 1.1),
        ("at most 9 g/L", Dimension.MASS_CONCENTRATION, None, 9.0),
        ("At least 5 g/L", Dimension.MASS_CONCENTRATION, 5.0, None),
        ("exactly 5 g/L", Dimension.MASS_CONCENTRATION, 5.0, 5.0),
        ("0.2 ± 0.3 % vol", Dimension.STRENGTH, 0.0, 0.5),
        ("99.9 ± 0.3 % vol", Dimension.STRENGTH, 99.6, 100.0),
        ("100 % vol ± 0.3 % vol", Dimension.STRENGTH, 99.7, 100.0),
        ("95 ± 10 %", Dimension.SHARE, 0.85, 1.0),
        ("30 to 60 %", Dimension.SHARE, 0.3, 0.6),
        ("25 ± 4", Dimension.BITTERNESS, 21.0, 29.0),
        ("8 to 12", Dimension.RATIO, 8.0, 12.0),
    ],
)
def test_bands(text: str, dimension: Dimension, lower: float | None, upper: float | None) -> None:
    band = parse_band(text, dimension)
    assert (band.lower, band.upper, band.dimension, band.plain) == (lower, upper, dimension, False)


def test_a_plain_value_waits_for_its_tolerance() -> None:
    band = parse_band("22 % vol", Dimension.STRENGTH)
    assert band == Band(22.0, 22.0, Dimension.STRENGTH, plain=True)
    assert band.with_tolerance(0.3) == Band(21.7, 22.3, Dimension.STRENGTH)
    assert parse_band("0.1 g/L", Dimension.MASS_CONCENTRATION).with_tolerance(5).lower == 0.0
    assert parse_band("100 % vol", Dimension.STRENGTH).with_tolerance(0.3).upper == 100.0
    given_band = parse_band("exactly 22 % vol", Dimension.STRENGTH)
    assert given_band.with_tolerance(0.3) is given_band
    with pytest.raises(UnitError, match="a tolerance must be above zero, got 0"):
        band.with_tolerance(0.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "about 22 % vol",
            "'about' is not a limit, got about 22 % vol. Give a band: 22 ± 0.3 % vol, or leave it plain: "
            "the shelf's usual_tolerance is used.",
        ),
        ("~22 % vol", "'~' is not a limit"),
        (
            "23 to 22 % vol",
            "the lower end is above the upper end, got 23 to 22 % vol. Did you mean 22 to 23 % vol?",
        ),
        ("23 % vol to 22 % vol", "Did you mean 22 % vol to 23 % vol?"),
        ("22 ± 0 % vol", "a tolerance of zero cannot be met, got 22 ± 0 % vol. Write exactly 22 % vol"),
        ("22 ± 1e-30 % vol", "a tolerance this small cannot be met, got 22 ± 1e-30 % vol. Write exactly 22"),
        ("22 ± 0.00001 % vol", "a tolerance this small cannot be met"),
        ("22 ± -1 % vol", "a tolerance must be positive"),
        ("100.1 ± 0.3 % vol", "more than the whole"),
        ("21,7-22,3 % vol", "a decimal comma, got 21,7-22,3 % vol. Write 21.7 to 22.3 % vol."),
        ("22 % vol ± 0.3", "the tolerance needs the unit of the value"),
        ("22 ± 0.3", "the unit is missing, got 22 ± 0.3."),
        ("22 - 23 % vol", "a range is written with 'to', got 22 - 23 % vol. Write 22 to 23 % vol."),
        ("22–23 % vol", "Write 22 to 23 % vol."),
        ("<= 22 % vol", "a limit is written with words, got <= 22 % vol. Write at most 22 % vol."),
        ("max. 22 % vol", "Write at most 22 % vol."),
        ("over 22 % vol", "Write at least 22 % vol."),
        ("between 22 and 23 % vol", "Write 22 to 23 % vol."),
        ("1 to 2 to 3 % vol", "not one band"),
        ("at most", "no number found"),
        ("at most 22 ± 1 % vol", "unknown unit"),
    ],
)
def test_bands_refused_say_what_to_write(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_band(text, Dimension.STRENGTH)
    assert message in str(caught.value)


def _result_or_text(read: Callable[[], object]) -> tuple[object, str | None]:
    try:
        return read(), None
    except UnitError as refusal:
        return None, str(refusal)


LARGEST = {
    Dimension.STRENGTH: 100.0,
    Dimension.MASS_FRACTION: 1.0,
    Dimension.SHARE: 1.0,
    Dimension.CONTENT: 1000.0,
    Dimension.BITTERNESS: 200_000.0,
}


@st.composite
def bands(draw: st.DrawFn) -> Band:
    dimension = draw(st.sampled_from([d for d in Dimension if d is not Dimension.TEMPERATURE]))
    figure = st.floats(0.0, LARGEST.get(dimension, 1e6)).map(lambda x: 0.0 if x < 1e-9 else x)
    ends = sorted([draw(figure), draw(figure)])
    form = draw(st.sampled_from(["both", "lower", "upper", "plain", "exactly"]))
    if form in ("plain", "exactly"):
        return Band(ends[0], ends[0], dimension, plain=form == "plain")
    return Band(None if form == "upper" else ends[0], None if form == "lower" else ends[1], dimension)


@pytest.mark.parametrize(
    ("read", "text", "advice"),
    [
        (parse_amount, "5-7 g", "Give 5 g or 7 g."),
        (parse_amount, "5 to 7 g", "Give 5 g or 7 g."),
        (parse_amount, "5 g – 0.007 kg", "Give 5 g or 0.007 kg."),
        (parse_amount, "1,2-1,4 g", "Give 1.2 g or 1.4 g."),
        (parse_amount, "2-3 bottles", "Give 2 bottles or 3 bottles."),
        (parse_money, "9-10 EUR", "Give 9 EUR or 10 EUR."),
        (parse_money, "9 to 10 EUR/L", "Give 9 EUR/L or 10 EUR/L."),
        (lambda text: parse_quantity(text, Dimension.TIME), "1-2 h", "Give 1 h or 2 h."),
        (lambda text: parse_quantity(text, Dimension.TEMPERATURE), "20-30 C", "Give 20 C or 30 C."),
        (lambda text: parse_quantity(text, Dimension.TEMPERATURE), "-20 - -10 °C", "Give -20 °C or -10 °C."),
    ],
)
def test_a_range_where_one_value_is_meant_offers_both(
    read: Callable[[str], object], text: str, advice: str
) -> None:
    with pytest.raises(UnitError) as caught:
        read(text)
    assert str(caught.value) == f"one value is meant here, got {text}. {advice}"
    # The advice is good: what it offers is read.
    for offered in advice.removeprefix("Give ").removesuffix(".").split(" or "):
        read(offered)


def test_a_small_number_with_an_exponent_is_no_range() -> None:
    assert parse_amount("1e-3 g").value == 1e-6
    assert parse_quantity("2.5e-2 % w/w", Dimension.MASS_FRACTION) == 2.5e-4


@pytest.mark.parametrize("text", ["1e30 kg", "1e9 L", "2e6 bottles", "1e12 g per L bottled"])
def test_more_than_any_bar_holds_is_refused(text: str) -> None:
    for read in (parse_amount, lambda text: parse_amount_band(f"at most {text}")):
        with pytest.raises(UnitError, match="more than any bar holds, got"):
            read(text)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [("1e30 kg", Dimension.MASS), ("1e7 L", Dimension.VOLUME), ("200001", Dimension.BITTERNESS)],
)
def test_a_figure_beyond_its_ceiling_is_refused(text: str, dimension: Dimension) -> None:
    with pytest.raises(UnitError, match=r"^more .*than .*, got .* Check the (zeros|number and the unit)\."):
        parse_quantity(text, dimension)


def test_bottled_is_read_in_any_letters() -> None:
    assert parse_amount("5 g per L Bottled") == parse_amount("5 g per L bottled")


@given(
    st.sampled_from(list(Dimension)),
    st.text(max_size=40) | st.from_regex(r"[-+±.,0-9a-zL%/ ]{1,25}", fullmatch=True),
)
def test_any_text_is_read_or_refused(dimension: Dimension, text: str) -> None:
    for read in (
        lambda: parse_quantity(text, dimension),
        lambda: parse_band(text, dimension),
        lambda: parse_amount(text),
        lambda: parse_amount_band(text),
        lambda: parse_money(text),
        lambda: parse_money_band(text),
    ):
        result, said = _result_or_text(read)
        if said is not None:
            assert said.endswith((".", "?"))
            continue
        figures = (
            [result]
            if isinstance(result, float)
            else [getattr(result, name) for name in ("lower", "upper", "value") if hasattr(result, name)]
        )
        assert all(figure is None or math.isfinite(figure) for figure in figures)


@pytest.mark.parametrize(
    ("value", "dimension", "digits", "text"),
    [
        (0.25, Dimension.MASS, 3, "250 g"),
        (1.2345, Dimension.MASS, 3, "1.23 kg"),
        (0.0000125, Dimension.MASS, 3, "12.5 mg"),
        (0.03, Dimension.VOLUME, 3, "30 mL"),
        (5.0, Dimension.VOLUME, 3, "5 L"),
        (0.01, Dimension.MASS_CONCENTRATION, 3, "10 mg/L"),
        (180.04, Dimension.MASS_CONCENTRATION, 4, "180 g/L"),
        (22.04, Dimension.STRENGTH, 3, "22 % vol"),
        (12345.0, Dimension.RATIO, 2, "12000"),
        (0.05, Dimension.MASS_FRACTION, 3, "5 % w/w"),
        (0.3, Dimension.SHARE, 3, "30 %"),
        (0.5, Dimension.TIME, 3, "30 min"),
        (240.0, Dimension.TIME, 3, "10 days"),
        (-18.0, Dimension.TEMPERATURE, 3, "-18 °C"),
        (0.0, Dimension.MASS, 3, "0 g"),
        # where one unit gives way to the next
        (1.0, Dimension.MASS, 3, "1 kg"),
        (0.001, Dimension.MASS, 3, "1 g"),
        (1.0, Dimension.VOLUME, 3, "1 L"),
        (0.1, Dimension.MASS_CONCENTRATION, 3, "0.1 g/L"),
        (0.1, Dimension.CONTENT, 3, "0.1 g/kg"),
        (1.0, Dimension.TIME, 3, "1 h"),
        (72.0, Dimension.TIME, 3, "3 days"),
        (-0.0, Dimension.STRENGTH, 3, "0 % vol"),
    ],
)
def test_quantities_are_written_in_the_unit_a_person_reads(
    value: float, dimension: Dimension, digits: int, text: str
) -> None:
    assert format_quantity(value, dimension, digits) == text


def test_records_survive_a_process_pool() -> None:
    for record in (parse_band("22 % vol", Dimension.STRENGTH), parse_amount("5 g"), parse_money("1 EUR")):
        assert pickle.loads(pickle.dumps(record)) == record


def test_metric_files_never_load_the_units_library() -> None:
    code = (
        "import sys; from formulate.quantity import *; parse_amount('250 g per L bottled'); "
        "parse_band('22 ± 0.3 % vol', Dimension.STRENGTH); print('pint' in sys.modules); "
        "parse_amount('2 oz'); print('pint' in sys.modules)"
    )
    output = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert output.split() == ["False", "True"]
