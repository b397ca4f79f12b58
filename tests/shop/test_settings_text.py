"""A changed `shop.toml` says just what was meant, and all else of it stays byte for byte."""

import re
import tomllib
from datetime import date
from decimal import Decimal

import pytest

from pipeline.errors import UserError
from pipeline.new_shop.settings_file import text as new_text
from pipeline.shop.settings_text import Add, Drop, Edit, Out, Put, apply, changed, values_in

WHERE = "shop.toml"
OWN = """\
# what I wrote myself
name   =   "Two \\"Rooms\\""   # ours
start = 2026-01-01

[[people]] # who works here
  name = "Ada"   # that's me
  [[people.rates]]
    rate = 30.00 # to begin with
  # a raise after the fair

[[people]]
name = 'Bo'
rate = 21.5

[[items]]
name = '''
deep [[people]]
'''
density = 1.10

[words.species]
"my oak" = "white oak"

# the end
"""
LATER = {"from": date(2026, 5, 1), "rate": Decimal("32.50")}
NAMES = [
    'a "b"',
    "a\\b",
    "#",
    "=",
    "[[people]]",
    "\n[[people]]\nname = 'x'",
    "'''",
    "\x7f\x00\u2028",
    "名",
    "🪵",
    "}, {",
]


def kept(before: str, after: str) -> None:
    """All lines that were there are there, in their order, as they were."""
    lines = iter(after.splitlines(keepends=True))
    assert [line for line in before.splitlines(keepends=True) if line not in lines] == []


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["bare", "marked"])
def test_a_dated_entry_stands_behind_those_of_its_list_and_all_else_stays(ends: str, mark: str) -> None:
    before = mark + OWN.replace("\n", ends)
    after = changed(before.encode(), [Add(("people", 0, "rates"), LATER)], WHERE).decode()
    new = "  [[people.rates]]\n  from = 2026-05-01\n  rate = 32.50\n".replace("\n", ends)
    assert new in after and after.replace(new, "") == before
    assert after.index(new) < after.index("# a raise")
    assert values_in(after.encode())["people"][0]["rates"][1] == LATER


def test_what_stood_in_the_file_is_replaced_alone() -> None:
    after = changed(OWN.encode(), [Put(("people", 0, "rates", 0), "rate", Decimal(31))], WHERE).decode()
    assert after == OWN.replace("30.00", "31")
    after = changed(OWN.encode(), [Put((), "name", "One Room")], WHERE).decode()
    assert after == OWN.replace('"Two \\"Rooms\\""', '"One Room"')


def test_what_is_taken_out_stays_as_a_comment() -> None:
    after = changed(OWN.encode(), [Out(("people", 0)), Drop(("items", 0), "density")], WHERE).decode()
    now = values_in(after.encode())
    assert [person["name"] for person in now["people"]] == ["Bo"] and "density" not in now["items"][0]
    assert after.replace("#", "") == OWN.replace("#", "")
    after = changed(OWN.encode(), [Out(("items", 0))], WHERE).decode()
    assert "items" not in values_in(after.encode()) and after.replace("#", "") == OWN.replace("#", "")


def test_in_a_new_shop_s_file_what_is_set_stands_below_its_example() -> None:
    before = new_text(date(2026, 1, 1))
    edits: list[Edit] = [
        Put((), "cost_flow", "average"), Add(("machines",), {"name": "saw"}), Add(("machines", 0, "rates"), LATER),
        Add(("people", 0, "rates"), LATER), Put(("words", "species"), "dark one", "black walnut"),
    ]  # fmt: skip
    after = changed(before.encode(), edits, WHERE).decode()
    kept(before, after)
    lines = after.splitlines()
    assert lines[lines.index('cost_flow = "average"') - 1] == '#cost_flow = "fifo"'
    assert lines.index("#[[machines]]") < lines.index("[[machines]]") < lines.index("#[[pools]]")
    assert lines.index("from = 2026-05-01") < lines.index("# From a later day on:")
    assert lines.index('#"the dark one" = "black walnut"') < lines.index("[words.species]")


@pytest.mark.parametrize(
    "before",
    [
        "start = 2026-01-01\n[[people]]\nname = 'Ada'\n[[channels]]\nname = 'x'\n[[people.rates]]\nrate = 30\n",
        "start\t=\t2026-01-01\n\t[[people]]\t# x\n\tname\t=\t'Ada'\n\t\t[[people.rates]]\n\t\trate\t=\t30\n",
        "start = 2026-01-01\n[[people]]\n'name' = 'A'\nrates = [{rate = 30}]\n[words.'species']\n'a.b' = 'c'\n",
        "start = 2026-01-01\npeople = [ # all\n  {name = 'Ada', rates = [{rate = 30}]}, # me\n]\n",
        "start = 2026-01-01\n[[people]]\nname = 'Ada'\nrates = [{rate = 30}] # so far\n",
        "start = 2026-01-01\n[[people]]\nname = 'Ada'\n[[people.rates]]\nrate = 30",
        "start = 2026-01-01\n[[ people ]]\n'name' = 'Ada'\n[[\"people\" . rates]]\n\"rate\" = 30\n",
        "start = 2026-01-01\n[[people]]\nname = 'Ada'\n[[people.rates]]\nrate = 30\n[words]\nspecies.x = 'y'\n",
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
def test_any_way_of_writing_an_entry_takes_another(before: str, ends: str) -> None:
    before = before.replace("\n", ends)
    wanted = values_in(before.encode())
    edits: list[Edit] = [
        Add(("people", 0, "rates"), LATER), Put(("people", 0), "role", "owner"), Put(("words", "species"), "b", "elm"),
        Put(("people", 0, "rates", 0), "rate", 7), Add(("channels",), {"name": "fair"}),
    ]  # fmt: skip
    for edit in edits:
        apply(wanted, edit)
    after = changed(before.encode(), edits, WHERE)
    assert values_in(after) == wanted
    assert {*re.findall(r"\r\n|\r|\n", after.decode())} == {ends}


@pytest.mark.parametrize("name", NAMES)
def test_any_text_stays_a_text(name: str) -> None:
    for before in (OWN, OWN.replace("\n", "\r\n"), new_text(date(2026, 1, 1))):
        edits: list[Edit] = [
            Add(("channels",), {"name": name}), Put(("words", "species"), name, name), Put((), "quote_terms", name),
            Add(("channels", 0, "fees"), {"share": Decimal("0.065")}),
        ]  # fmt: skip
        wanted = values_in(before.encode())
        for edit in edits:
            apply(wanted, edit)
        after = changed(before.encode(), edits, WHERE)
        assert tomllib.loads(after.decode().replace("\r\n", "\n"), parse_float=Decimal) == wanted
        kept(before, after.decode())


def test_remarks_within_a_value_stay_and_the_last_of_a_dotted_table_goes() -> None:
    before = "[[pools]]\n operations = [ # all of it\n  'a', # one [[x]]\n  'b',\n ]\nname = 'rent'\n"
    after = changed(before.encode(), [Put(("pools", 0), "operations", ["a", "c"])], WHERE).decode()
    assert after.replace("#", "") == before.replace("#", "").replace(" ]\n", ' ]\n operations = ["a", "c"]\n')
    assert values_in(after.encode())["pools"] == [{"operations": ["a", "c"], "name": "rent"}]
    dotted = b"start = 2026-01-01\nwords.species.'my oak' = 'white oak'\n"
    assert "words" not in values_in(changed(dotted, [Drop(("words", "species"), "my oak")], WHERE))


@pytest.mark.parametrize("broken", [b"start = ", b"\xff\xfe", b"a = 1\na = 2\n", b"x = 1e999999999999\n[["])
def test_a_file_that_can_t_be_read_is_told(broken: bytes) -> None:
    with pytest.raises(UserError, match="can't be read"):
        changed(broken, [Put((), "name", "x")], WHERE)


@pytest.mark.parametrize("edit", [Put(("start",), "name", "x"), Out(("people", 7)), Drop((), "nothing")])
def test_what_can_t_be_written_is_told_and_never_guessed(edit: Edit) -> None:
    with pytest.raises(UserError, match="in a form"):
        changed(OWN.encode(), [edit], WHERE)
