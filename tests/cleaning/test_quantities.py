"""Quantities and lengths: number and unit by our own grammar, whole base units out."""

from fractions import Fraction

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shop import about_of

from pipeline.cleaning import quantities
from pipeline.cleaning.parsed import UnreadableError
from pipeline.cleaning.quantities import Reader
from pipeline.cleaning.units import Units
from pipeline.errors import FAULTS

UNITS = Units()
WORDS = ["g", "kg", "oz", "lb", "ml", "L", "fl oz", "gal", "bf", "in3", "m3", "ft²", "ea", "pcs", "kit", "mm", '"']


def read(text: str, decimal: str = "", unit: str = "", **known: object) -> object:
    try:
        return Reader(UNITS, decimal, **known).read(text, unit)  # type: ignore[arg-type]
    except UnreadableError as fault:
        return fault.code


def length(text: str, unit: str = "") -> object:
    found = read(text, unit=unit, bases=("um",))
    return found[0] if isinstance(found, tuple) else found


@given(
    value=st.decimals(0, 10**3, places=3),
    word=st.sampled_from(WORDS),
    decimal=st.sampled_from(".,"),
    gap=st.sampled_from(["", " ", "  ", "\u00a0"]),
    times=st.one_of(st.none(), st.integers(1, 99)),
    by=st.sampled_from([" x ", "x", " × ", "×", " * "]),
    negative=st.booleans(),
)
def test_every_notation_gives_the_same_quantity(
    value: object, word: str, decimal: str, gap: str, times: int | None, by: str, negative: bool
) -> None:
    text = f"{value}".replace(".", decimal) + gap + word
    unit = UNITS.find(word)
    assert unit is not None
    expected = round(Fraction(str(value)) * unit.size * (times or 1))
    text = text if times is None else f"{times}{by}{text}"
    assert read(f"-{text}" if negative else text, decimal) == (-expected if negative else expected, unit.base)


@given(
    st.integers(0, 200),
    st.integers(1, 15),
    st.sampled_from([2, 4, 8, 16, 32, 64]),
    st.sampled_from(["in", '"', " inches", "″", ""]),
)
def test_inches_and_fractions(whole: int, above: int, below: int, word: str) -> None:
    um = round((whole + Fraction(above, below)) * 25400)
    for text in (f"{whole} {above}/{below}", f"{whole}-{above}/{below}"):
        assert length(text + word, "in") == um


@given(st.integers(1, 64))
def test_hardwood_quarters(quarters: int) -> None:
    # engineeringtoolbox.com, "Hardwood lumber dimensions": 4/4 is 1 in, 5/4 is 1 1/4 in, 8/4 is 2 in, 16/4 is 4 in
    expected: object = quarters * 6350 if quarters >= 4 else "unit-missing"
    assert length(f"{quarters}/4") == expected


@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("5' 6\"", 66 * 25400),
        ("5'6\"", 66 * 25400),
        ("5′ 6″", 66 * 25400),
        ("5 ft 6 in", 66 * 25400),
        ("5ft 6 1/2in", round(66.5 * 25400)),
        ("5'", 60 * 25400),
        ('1½"', 38100),
        ("1 1/2 inch", 38100),  # Pint alone reads half an inch
        ("2.5 cm", 25000),
        ("2,5 cm", 25000),
        ("1.2 m", 1_200_000),
        ("19mm", 19_000),
        ("~30 cm", 300_000),
        ("3/4 in", 19_050),
        ("6 mil", 152),  # 152.4 µm
    ],
)
def test_lengths(text: str, um: int) -> None:
    assert length(text) == um


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("12", "unit-missing"),
        ("3 kg", "unit"),
        ("2 x 4 in", "quantity"),
        ("long", "quantity"),
        ("6 in 5 ft", "quantity"),
        ("5 ft 6", "quantity"),
        ("1 furlong", "unit"),
    ],
)
def test_what_is_no_length(text: str, code: str) -> None:
    assert length(text) == code


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12 bf", (28316847, "mm3")),  # 12 board feet are a cubic foot: 28316846.592 mm³
        ("2 gal", (7570824, "ul")),
        ("3 x 500 ml", (1_500_000, "ul")),
        ("3 bottles x 500 ml", (1_500_000, "ul")),
        ("1 gal kit", (3785412, "ul")),
        ("2 kits", (2000, "kit")),
        ("1/2 kit", (500, "kit")),
        ("12 ea", (12000, "each")),
        ("12 pcs.", (12000, "each")),
        ("2 dozen", (24000, "each")),
        ("3 lb 4 oz", (1474175, "mg")),  # Pint alone reads a product; 52 oz of 28349.523125 mg
        ("1,5 L", (1_500_000, "ul")),  # Pint alone reads 15 litres
        ("8 fl oz", (236588, "ul")),
        ("8 oz", (226796, "mg")),
        ("1 MBF", (2359737216, "mm3")),
        ("(2 kg)", (-2_000_000, "mg")),
        ("1 500 ml", (1_500_000, "ul")),
        ("1'500 ml", (1_500_000, "ul")),
        ("½ gal", (1892706, "ul")),
        ("about 2 qt", (1892706, "ul")),
        ("2.5kg", (2_500_000, "mg")),
        (".5 l", (500_000, "ul")),
        ("5 in3", (81935, "mm3")),
    ],
)
def test_quantities(text: str, expected: tuple[int, str]) -> None:
    assert read(text) == expected


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("12", "unit-missing"),
        ("1.234 kg", "quantity"),  # a thousand or a little over one: the file must show it
        ("some", "quantity"),
        ("kg", "quantity"),
        ("2 blobs", "unit"),
        ("3 lb 4", "quantity"),
        ("3 kg 2 l", "quantity"),
        ("1/0 kg", "quantity"),
        ("9" * 40 + " kg", "range"),
        ("2 kg x 3", "quantity"),
        ("", "quantity"),
    ],
)
def test_what_is_no_quantity(text: str, code: str) -> None:
    assert read(text) == code


def test_a_bare_number_takes_the_row_then_the_column_then_the_category() -> None:
    reader = Reader(UNITS, unit="ml")
    assert reader.read("5", "kg") == (5_000_000, "mg")
    assert reader.read("5") == (5000, "ul")
    assert Reader(UNITS).read("5", "", "each") == (5000, "each")
    assert reader.read("5 g", "kg") == (5000, "mg")


def test_ounces_are_fluid_only_where_something_says_so() -> None:
    frame = pl.DataFrame(
        {"text": ["8 oz", "8"], "unit": [None, "oz"], "lone": [None, None]},
        schema_overrides=dict.fromkeys(("unit", "lone"), pl.String),
    )
    for told in ({"header": "Part A (fl oz)"}, {"unit": "fl oz"}, {"header": "fluid ounces"}):
        assert quantities.quantities(frame, about_of("pours.part_a", **told))["base"].to_list() == ["ul", "ul"]
    assert quantities.quantities(frame, about_of("pours.part_a"))["base"].to_list() == ["mg", "mg"]


def test_volume_rule_of_a_tallied_board() -> None:
    # americanhardwood.org, "Measurement": 2 in x 6 1/4 in x 8 ft holds 8.333 board feet by solid volume (worked out)
    sides = [length(text) for text in ("2 in", "6 1/4 in", "8 ft")]
    foot = UNITS.find("bf")
    assert foot is not None and all(isinstance(side, int) for side in sides)
    volume = Fraction(sides[0]) * sides[1] * sides[2] / 10**9  # type: ignore[arg-type, operator]
    assert volume / foot.size == Fraction(25, 3)


@given(
    st.lists(
        st.text("0123456789 .,/x'\"½¾-()kgmlinft oz³²", max_size=25) | st.text(max_size=25), max_size=25, unique=True
    )
)
def test_junk_is_set_aside_with_a_reason(texts: list[str]) -> None:
    frame = pl.DataFrame({"text": texts}, schema={"text": pl.String}).with_columns(
        pl.lit(None, pl.String).alias("unit"), pl.lit(None, pl.String).alias("lone")
    )
    for read_all in (
        quantities.quantities(frame, about_of("usage.quantity")),
        quantities.lengths(frame["text"], about_of("pieces.length")),
    ):
        assert read_all.height == len(texts)
        assert read_all.filter(pl.col("value").is_null() == pl.col("code").is_null()).is_empty()
        assert set(read_all["code"].drop_nulls()) <= set(FAULTS)


@given(
    st.lists(
        st.tuples(
            st.from_regex(r"\A-?[0-9]{1,6}([.,][0-9]{1,3})?\Z"), st.sampled_from(["", " "]),
            st.sampled_from(["", *WORDS, "blobs", "yd3", "fl oz", "MBF", "oz"]),
            st.sampled_from([None, "kg", "ml", "oz", "fl oz"]), st.sampled_from([None, "each"]),
        ),
        min_size=1, unique=True,
    ),
    st.sampled_from(["", ".", ",", "?"]), st.sampled_from(["", "l", "fl oz"]),
)  # fmt: skip
def test_the_sweep_reads_what_the_reader_reads(
    cells: list[tuple[str, str, str, str | None, str | None]], decimal: str, unit: str
) -> None:
    frame = pl.DataFrame(
        [(number + gap + word, cell, lone) for number, gap, word, cell, lone in cells],
        schema=dict.fromkeys(quantities.KEYS, pl.String),
        orient="row",
    ).unique()
    done = quantities.quantities(frame, about_of("usage.quantity", decimal=decimal, unit=unit))
    assert done.height == frame.height
    for text, cell, lone, value, base, code, _ in done.iter_rows():
        fluid = quantities.is_fluid(cell or "", unit)
        try:
            one_by_one: object = Reader(UNITS, decimal, unit, (), fluid).read(text, cell or "", lone or "")
        except UnreadableError as fault:
            one_by_one = fault.code
        assert one_by_one == (code or (value, base))


def test_most_texts_are_swept() -> None:
    frame = pl.DataFrame({"text": ["12.5 kg", "3 gal", "-2 ea", "1 gal kit", "1/2 gal", "5 blobs"]}).with_columns(
        pl.lit(None, pl.String).alias("unit"), pl.lit(None, pl.String).alias("lone")
    )
    reader = Reader(UNITS, ".")
    swept, rest = quantities.sweep(frame, ".", reader.plain_unit)
    assert swept["text"].to_list() == ["12.5 kg", "3 gal", "-2 ea", "1 gal kit"]
    assert rest["text"].to_list() == ["1/2 gal", "5 blobs"]
