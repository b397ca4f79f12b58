"""What a form says becomes the lines of `shop.toml` that mean it; what can't be taken is said beside its field."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.changing.entries import Stand, always_of, dated_of, stand
from pipeline.changing.plan import ALWAYS, LATER, MEND, NEW, OUT, WORD, Change, plan
from pipeline.changing.typed import UnfitError, as_typed, values_of
from pipeline.cleaning.synonyms import Words
from pipeline.errors import UserError
from pipeline.new_shop.settings_file import EXAMPLES
from pipeline.settings import SETTINGS, Setting
from pipeline.shop import checked
from pipeline.shop.settings_text import values_in
from tests.refreshed import TINY_SHOP

OWN = (
    TINY_SHOP
    + """
[[people]]
name = "Bo"
role = "employee"
[[people.rates]]
rate = 20
[[people.rates]]
from = 2026-03-01
rate = 22

[[pools]]
name = "rent"
amount = 400

[[channels]]
name = "online"
"""
)


def standing(text: str = OWN) -> Stand:
    content = text.encode()
    return stand(checked(Path("shop"), content), content)


def after(asked: Change, text: str = OWN) -> Stand:
    return standing(plan(standing(text), asked).after.decode())


def rates(now: Stand, table: str, name: str, column: str) -> list[tuple[date, object]]:
    return [(row["from_date"], row[column]) for row in now.shop.tables[table] if row["name"] == name]


def test_a_raise_from_a_day_on_leaves_what_came_before() -> None:
    start, day = date(2026, 1, 1), date(2026, 5, 1)
    told = Change(LATER, "person_rate", "Bo", typed={"from": "2026-05-01", "rate": "23,50"})
    assert rates(after(told), "person_rate", "Bo", "rate_cents") == [
        (start, 2000),
        (date(2026, 3, 1), 2200),
        (day, 2350),
    ]
    between = Change(LATER, "person_rate", "Bo", typed={"from": "2026-02-01", "rate": "21"})
    assert [d for d, _ in rates(after(between), "person_rate", "Bo", "rate_cents")] == [
        start, date(2026, 2, 1), date(2026, 3, 1),
    ]  # fmt: skip
    # of one whose rate stands in its entry, that is the first of the list
    told = Change(LATER, "person_rate", "Ada", typed={"from": "2026-05-01", "rate": "32"})
    assert rates(after(told), "person_rate", "Ada", "rate_cents") == [(start, 3000), (day, 3200)]
    told = Change(LATER, "pool", "rent", typed={"from": "2026-05-01", "amount": "450", "rate": ""})
    assert rates(after(told), "pool", "rent", "amount_cents") == [(start, 40000), (day, 45000)]
    # and a channel of which no fee is said goes by its sales until then
    told = Change(LATER, "channel", "online", typed={"from": "2026-05-01", "share": "6.5 %", "fixed": ""})
    assert rates(after(told), "channel", "online", "share_ppm") == [(start, None), (day, 65000)]


def test_the_same_day_again_is_the_same_entry() -> None:
    told = Change(LATER, "person_rate", "Bo", typed={"from": "2026-03-01", "rate": "23"})
    assert [cents for _, cents in rates(after(told), "person_rate", "Bo", "rate_cents")] == [2000, 2300]
    with pytest.raises(UserError, match="says already"):
        plan(standing(), Change(LATER, "person_rate", "Bo", typed={"from": "2026-03-01", "rate": "22"}))


def test_an_entry_is_mended_moved_and_taken_out() -> None:
    march = date(2026, 3, 1)
    mended = after(Change(MEND, "person_rate", "Bo", march, {"rate": "25", "from": "2026-04-01"}))
    assert rates(mended, "person_rate", "Bo", "rate_cents")[1:] == [(date(2026, 4, 1), 2500)]
    assert len(rates(after(Change(OUT, "person_rate", "Bo", march)), "person_rate", "Bo", "rate_cents")) == 1
    gone = after(Change(OUT, "pool", "rent"))
    assert gone.shop.tables["pool"] == [] and "#amount = 400" in gone.content.decode()


def test_what_holds_on_every_day_is_said_once() -> None:
    now = after(Change(ALWAYS, "person_rate", "Bo", typed={"name": "Bob", "role": "partner", "paid": "yes"}))
    assert [(r["role"], r["paid"]) for r in now.shop.tables["person_rate"] if r["name"] == "Bob"] == [
        ("partner", True)
    ] * 2
    assert len(values_in(now.content)["people"]) == 2


def test_rules_say_only_what_changes_of_them() -> None:
    now = after(
        Change(LATER, "rule", typed={"from": "2026-06-01", "tax_regime": "vat", "normal_scrap": "5", "cold_c": "18"})
    )
    assert values_in(now.content)["rules"] == [{"from": date(2026, 6, 1), "tax_regime": "vat", "cold_c": 18}]


def test_words_are_taught_changed_and_forgotten() -> None:
    taught = plan(
        standing(), Change(WORD, "species", typed={"word": " my  oak", "meaning": "white oak"})
    ).after.decode()
    assert standing(taught).words == {"species": {"my oak": "white oak"}}
    other = plan(
        standing(taught), Change(WORD, "species", typed={"word": "my oak", "meaning": "red oak"})
    ).after.decode()
    assert standing(other).words == {"species": {"my oak": "red oak"}}
    assert after(Change(WORD, "species", typed={"word": "my oak"}), other).words["species"] == {}
    for typed, kind in (({"word": "x", "meaning": "nonsense"}, "action"), ({"word": "", "meaning": "x"}, "species")):
        with pytest.raises(UnfitError):
            plan(standing(), Change(WORD, kind, typed=typed))


@pytest.mark.parametrize(
    ("table", "typed", "field"),
    [
        ("person_rate", {"from": "2026-05-01", "rate": "-5"}, "rate"),
        ("person_rate", {"from": "2026-05-01", "rate": "1,500"}, "rate"),
        ("person_rate", {"from": "2026-05-01", "rate": "9" * 15}, "rate"),
        ("person_rate", {"from": "2026-05-01", "rate": "nan"}, "rate"),
        ("person_rate", {"from": "2026-05-01", "rate": "1\n2"}, "rate"),
        ("person_rate", {"from": "soon", "rate": "5"}, "from"),
        ("person_rate", {"from": "", "rate": "5"}, "from"),
        ("person_rate", {"from": "2025-05-01", "rate": "5"}, "from"),
        ("channel", {"from": "2026-05-01", "share": "0.065"}, "share"),
        ("channel", {"from": "2026-05-01", "share": "101"}, "share"),
        ("rule", {"from": "2026-05-01", "tax_regime": "flat"}, "tax_regime"),
        ("rule", {"from": "2026-05-01", "tax_reclaimable": "maybe"}, "tax_reclaimable"),
    ],
)
def test_what_can_t_be_taken_is_said_of_its_field(table: str, typed: dict[str, str], field: str) -> None:
    name = {"person_rate": "Bo", "channel": "online"}.get(table, "")
    with pytest.raises(UnfitError) as told:
        plan(standing(), Change(LATER, table, name, typed=typed))
    assert list(told.value.fields) == [field] and len(told.value.fields[field]) > 20


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (Change(NEW, "pool", typed={"name": "RENT"}), "there already"),
        (Change(NEW, "person_rate", typed={"name": "Bo"}), "there already"),
        (Change(NEW, "person_rate", typed={"name": "bo"}), "there already"),
        (Change(NEW, "item", typed={"name": "goo", "category": "goo"}), "category"),
        (Change(MEND, "shop", typed={"currency": "EURO"}), "currency"),
        (Change(MEND, "shop", typed={"time_zone": "Mars"}), "time_zone"),
        (Change(MEND, "person_rate", "Nobody", typed={"rate": "5"}), "no more"),
        (Change(OUT, "rule"), "from the start"),
    ],
)
def test_what_can_t_be_so_is_told_and_nothing_is_planned(asked: Change, says: str) -> None:
    with pytest.raises(UserError, match=says):
        plan(standing(), asked)


@pytest.mark.parametrize("table", [t for t in SETTINGS.values() if t.section], ids=lambda t: t.name)
def test_one_of_every_kind_can_be_made_from_its_form(table: object) -> None:
    """All its fields as they stand in the example of a new shop's file."""
    settings: tuple[Setting, ...] = (*always_of(table), *dated_of(table))  # type: ignore[arg-type]
    name = table.name  # type: ignore[attr-defined]
    typed = {
        s.name: as_typed(s, EXAMPLES.get((name, s.name), s.choices[0] if s.choices else s.default)) for s in settings
    }
    typed = {n: text or {"name": "it", "day": "2026-03-01", "price": "5"}.get(n, "") for n, text in typed.items()}
    if name == "rule":
        typed |= {"normal_scrap": "7 %"}
    way = LATER if name == "rule" else NEW
    planned = plan(standing(TINY_SHOP), Change(way, name, typed=typed | {"from": "2026-02-01"}))
    assert len(standing(planned.after.decode()).shop.tables[name]) > len(standing(TINY_SHOP).shop.tables[name])


@pytest.mark.parametrize(
    ("text", "cents"),
    [
        ("1.234,50", 123450), ("1,234.50", 123450), ("1.234.567", 123456700), ("1'234,5", 123450), ("1’234.50", 123450),
        ("1 234,50", 123450), ("12,5", 1250), ("1234.5", 123450), ("0,125", 12),
    ],
)  # fmt: skip
def test_an_amount_is_read_as_it_is_written_anywhere(text: str, cents: int) -> None:
    now = after(Change(LATER, "pool", "rent", typed={"from": "2026-05-01", "amount": text}))
    assert rates(now, "pool", "rent", "amount_cents")[-1][1] == cents


@pytest.mark.parametrize("text", ["1.23.456", "1,234,50", "12.34,567.8", "1.2.3", "1..5", "5-", "1e3", "１.５.２"])
def test_what_is_no_number_anywhere_is_none(text: str) -> None:
    with pytest.raises(UnfitError):
        plan(standing(), Change(LATER, "pool", "rent", typed={"from": "2026-05-01", "amount": text}))


def test_a_field_that_nobody_touched_says_what_it_said() -> None:
    """Terms on several lines, and a name with a comma: no field of a form holds them, and none takes them away."""
    text = OWN.replace("start =", 'quote_terms = """Half now,\nhalf later.\n"""\nstart =', 1)
    text += '\n[[operations]]\nname = "sweep, tidy"\nkind = "shop"\n'
    text = text.replace("amount = 400", 'amount = 400\noperations = ["sweep, tidy"]')
    now, table = standing(text), SETTINGS["shop"]
    (shop,) = now.entries["shop"]
    typed = {s.name: as_typed(s, shop.always.get(s.name)).strip() for s in always_of(table)}
    changed = standing(plan(now, Change(MEND, "shop", typed=typed | {"name": "Three Benches"})).after.decode())
    assert changed.content.decode() == text.replace("Two Benches", "Three Benches")
    (pool,) = now.of("pool", "rent")
    typed = {s.name: as_typed(s, pool.always.get(s.name)) for s in always_of(SETTINGS["pool"])}
    changed = standing(
        plan(now, Change(ALWAYS, "pool", "rent", typed=typed | {"driver": "labour cost"})).after.decode()
    )
    assert changed.of("pool", "rent")[0].always["operations"] == ["sweep, tidy"]


def test_a_rule_that_is_emptied_is_the_usual_one_from_that_day_on() -> None:
    text = OWN.replace("start =", "cold_c = 18\nnormal_rework = 0.1\nstart =", 1)
    planned = plan(standing(text), Change(LATER, "rule", typed={"from": "2026-06-01", "cold_c": "", "damp_pct": "75"}))
    assert values_in(planned.after)["rules"] == [{"from": date(2026, 6, 1), "cold_c": 16}]
    assert planned.said == "rules, from 2026-06-01: cold c 16"
    with pytest.raises(UnfitError, match="can't be empty from a day on"):
        plan(standing(text), Change(LATER, "rule", typed={"from": "2026-06-01", "normal_rework": ""}))


def test_what_is_called_otherwise_is_still_what_records_call_it() -> None:
    taught = OWN + '\n[words.person]\n"B." = "Bo"\n"Bob" = "Bo"\n'
    planned = plan(standing(taught), Change(ALWAYS, "person_rate", "Bo", typed={"name": "Bob"}))
    now = standing(planned.after.decode())
    assert now.words["person"] == {"B.": "Bob", "Bo": "Bob"} and "“Bo” mean it too" in planned.said
    assert [Words("person", now.shop).find(word) for word in ("Bo", "B.", "Bob")] == ["Bob"] * 3
    with pytest.raises(UnfitError, match="there already"):
        plan(standing(), Change(ALWAYS, "person_rate", "Bo", typed={"name": "ADA"}))
    named = (
        OWN.replace("start =", 'usual_resin = "goo"\nstart =', 1)
        + '\n[[items]]\nname = "goo"\n[[price_list]]\nname = "goo"\nprice = 5\nunit = "kg"\n'
        + '[[operations]]\nname = "tidying"\nkind = "shop"\n'
    ).replace("amount = 400", 'amount = 400\noperations = ["tidying"]')
    item = after(Change(MEND, "item", "goo", typed={"name": "clear goo"}), named)
    assert item.shop["usual_resin"] == "clear goo" and item.names("price_list") == ["clear goo"]
    work = after(Change(MEND, "operation", "tidying", typed={"name": "sweeping"}), named)
    assert work.of("pool", "rent")[0].always["operations"] == ["sweeping"]


def as_file(value: object) -> object:
    return Decimal(str(value)) if isinstance(value, float) else value


@pytest.mark.parametrize("table", SETTINGS.values(), ids=lambda t: t.name)
def test_what_stands_in_a_form_is_read_back_as_it_was(table: object) -> None:
    for setting in (*always_of(table), *dated_of(table)):  # type: ignore[arg-type]
        value = EXAMPLES.get((table.name, setting.name), setting.default)  # type: ignore[attr-defined]
        if value is not None and value != "":
            assert values_of((setting,), {setting.name: as_typed(setting, value)}, 2) == {setting.name: as_file(value)}
