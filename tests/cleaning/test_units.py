"""The unit table, against exact definitions and against what Pint would make of the texts by itself."""

from fractions import Fraction

import pint
import pytest

from pipeline.cleaning import units
from pipeline.cleaning.units import Unit, Units
from pipeline.errors import UserError
from pipeline.reference import rows

PINT = pint.UnitRegistry(non_int_type=Fraction)

# Exact definitions read in Pint 0.25.3, default_en.txt (lines 555, 558, 598, 604, 608-609, 625-626, 674-679); the legal
# basis (NIST Handbook 44 Appendix C, the yard and pound agreement of 1959) is from memory.
DEFINED = [
    ("in", "um", "25400"),
    ("ft", "um", "304800"),
    ("yd", "um", "914400"),
    ("lb", "mg", "453592.37"),
    ("oz", "mg", "28349.523125"),
    ("gal", "ul", "3785411.784"),
    ("qt", "ul", "946352.946"),
    ("pt", "ul", "473176.473"),
    ("fl oz", "ul", "29573.5295625"),
    ("imp gal", "ul", "4546090"),
    ("imp fl oz", "ul", "28413.0625"),
    ("bf", "mm3", "2359737.216"),
    ("cu in", "mm3", "16387.064"),
    ("thou", "um", "25.4"),
    ("l", "ul", "1000000"),
    ("m3", "mm3", "1000000000"),
    ("kg", "mg", "1000000"),
]


@pytest.mark.parametrize(("word", "base", "size"), DEFINED)
def test_exact_definitions(word: str, base: str, size: str) -> None:
    assert Units().find(word) == Unit(base, Fraction(size))


def test_a_board_foot_is_a_foot_by_a_foot_by_an_inch() -> None:
    # americanhardwood.org, "Measurement": 1 ft x 1 ft x 1 in; so 144 cubic inches, and 12 to the cubic foot
    foot, inch = Units().find("bf"), Units().find("in3")
    assert foot is not None and inch is not None and foot.size == 144 * inch.size
    cubic = Units().find("ft3")
    assert cubic is not None and cubic.size == 12 * foot.size


@pytest.mark.parametrize(
    ("word", "same_as"),
    [
        ("fl. oz.", "fl oz"),  # Pint: femtolitre-ounce
        ("FL OZ", "fl oz"),
        ("floz", "fl oz"),
        ("fl_oz", "fl oz"),  # undefined in Pint
        ("cu. in.", "in3"),  # Pint: centi-atomic-mass-unit-inch
        ("in³", "in3"),
        ("mil", "thou"),  # Pint: an angle
        ("bd. ft.", "bf"),
        ("bdft", "bf"),
        ("BF", "bf"),
        ("board feet", "bf"),
        ("KG", "kg"),
        ("Litres", "l"),
        ("gal kit", "gal"),
        ('"', "in"),
        ("″", "in"),
        ("''", "in"),
        ("'", "ft"),
        ("′", "ft"),
        ("µl", "ul"),
    ],
)
def test_words_that_pint_would_misread_or_not_know(word: str, same_as: str) -> None:
    found = Units().find(word)
    assert found is not None
    assert found == Units().find(same_as)


@pytest.mark.parametrize(
    ("text", "pints", "ours"),
    [
        # what Pint 0.25.3 makes of these texts was found by running it
        ("1 fl oz", "femtoliter * ounce", "fl oz"),
        ("1 cu in", "centiunified_atomic_mass_unit * inch", "in3"),
        ("1 MBF", "megaboard_foot", "mbf"),
    ],
)
def test_pint_alone_would_read_something_else(text: str, pints: str, ours: str) -> None:
    import pint

    assert str(pint.UnitRegistry().parse_expression(text).units) == pints
    assert Units().find(text.removeprefix("1 ")) == Units().find(ours)


def test_a_mil_is_an_angle_to_pint() -> None:
    import pint

    assert pint.UnitRegistry().parse_expression("1 mil").dimensionless
    found = Units().find("mil")
    assert found is not None and found.base == "um"


@pytest.mark.parametrize("text", ["bf", "mbf", "bd ft", "bdft", "fl_oz", "in3", "kit", '"', "'"])
def test_pint_alone_does_not_know_these(text: str) -> None:
    import pint

    with pytest.raises((pint.UndefinedUnitError, AssertionError)):
        pint.UnitRegistry().parse_expression(text)
    assert Units().find(text) is not None


def test_a_thousand_board_feet_not_a_million() -> None:
    # Pint reads MBF as a mega board foot; the lumber trade means a thousand (from memory)
    thousand, one = Units().find("MBF"), Units().find("bf")
    assert thousand is not None and one is not None and thousand.size == 1000 * one.size


def test_an_ounce_is_a_weight() -> None:
    found = Units().find("oz")
    assert found is not None and found.base == "mg"


@pytest.mark.parametrize("word", ["cord", "furlong", "", "lbs/ft", "kilobanana", "kit kit", "ea kit"])
def test_an_unknown_unit_is_not_guessed(word: str) -> None:
    assert Units().find(word) is None


def test_the_shop_adds_its_own_words() -> None:
    own = Units({"tub": "5 kg", "Scoop": "ml"})
    assert own.find("TUB") == Unit("mg", Fraction(5_000_000))
    assert own.find("scoop") == Unit("ul", Fraction(1000))
    with pytest.raises(UserError, match="vat"):
        Units({"vat": "many"}).find("vat")


def test_every_word_of_the_table_converts_and_has_a_source() -> None:
    found = [Units().find(row["word"]) for row in rows("units")]
    # each and kit count thousandths, so that half a kit is whole
    stored = {"mg", "mm3", "ul", "um", "mm2", "s", "each", "kit"}
    assert {unit.base for unit in found if unit} <= stored and None not in found
    assert all(row["source"] for row in rows("units"))
    keys = [units.tidy(row["word"]) for row in rows("units")]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("row", [row for row in rows("units") if row["pint"]], ids=lambda row: row["word"])
def test_the_table_says_what_pint_does(row: dict[str, str]) -> None:
    base = {"mm3": "millimeter ** 3", "mm2": "millimeter ** 2", "ul": "microliter", "um": "micrometer"}
    names = {"mg": "milligram", "s": "second", **base}
    try:
        one = PINT.Quantity(Fraction(1), row["pint"])
    except pint.UndefinedUnitError:
        pytest.fail(f"Pint knows no {row['pint']!r}: name a unit that it knows in `pint`, and how many in `times`")
    assert Fraction(row["base_units"]) == one.to(names[row["base"]]).magnitude


def test_a_word_of_the_shops_own_can_name_what_only_pint_knows() -> None:
    # international avoirdupois: a stone is 14 lb (Pint 0.25.3, default_en.txt)
    own = Units({"clay bag": "2 stone"})
    assert own.find("clay bag") == Unit("mg", 28 * Fraction("453592.37"))
    with pytest.raises(UserError):
        Units({"bag": "3 candela"}).find("bag")
