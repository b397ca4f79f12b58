"""Settling what a file holds: shown, saved for a person to edit, and never wrongly by itself."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline import mapping
from pipeline.commands import main
from pipeline.errors import UserError
from pipeline.proposing import proposal, suggestion
from pipeline.readers import read
from pipeline.shop import Shop, load

Capture = pytest.CaptureFixture[str]

TILL = (
    "Sold on,Where,What,Takings,Customer,Mood\n"
    "2026-03-01,market,tray,45,Buyer One,fine\n"
    "2026-03-02,online,bowl,60,Buyer Two,grey\n"
)
PLAIN = "date,person,operation,hours\n2026-03-01,Ada,sanding,1:00\n"
TORN = "Date,Item,Note\n2026-03-01,epoxy,a\n2026-03-02,oil,b\n"


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    (tiny_shop / "inbox" / "till [2026].csv").write_text(TILL, encoding="utf-8")
    (tiny_shop / "inbox" / "hours.csv").write_text(PLAIN, encoding="utf-8")
    return load(tiny_shop)


def test_each_column_is_shown_with_field_sureness_and_samples(shop: Shop, capsys: Capture) -> None:
    assert main(["map", str(shop.folder), "inbox/till [2026].csv", "--as", "sales"]) == 1  # still open
    shown = capsys.readouterr().out
    lines = {line.split("  ")[1]: " ".join(line.split()) for line in shown.splitlines() if line.startswith("  ")}
    assert lines["Sold on"].startswith("Sold on date ")
    assert lines["Sold on"].endswith("2026-03-01 | 2026-03-02")
    assert lines["Where"].startswith("Where channel ")
    assert "about a buyer; never stored" in lines["Customer"]
    assert "Buyer" not in shown
    assert "Open: Is “Takings” the price?" in shown
    assert "(not known)" in lines["Takings"] and "(not needed)" in lines["Mood"]
    assert f"kerfledger map {shop.folder} 'inbox/till [2026].csv' --as sales --set price=… --save" in shown
    assert not list(shop.path("mappings").glob("*.toml"))


def test_it_is_given_as_json_too(shop: Shop, capsys: Capture) -> None:
    assert main(["map", str(shop.folder), "inbox/hours.csv", "--json"]) == 0
    (table,) = json.loads(capsys.readouterr().out)
    assert (table["record"], table["read_by"], table["rows"]) == ("hours", "canonical", 1)
    assert [(c["header"], c["field"]) for c in table["columns"]] == [
        (name, name) for name in ("date", "person", "operation", "hours")
    ]
    assert table["columns"][0]["samples"] == ["2026-03-01"]


def test_what_is_saved_is_read_by_a_refresh_and_can_be_edited(shop: Shop, capsys: Capture) -> None:
    call = ["map", str(shop.folder), "inbox/till [2026].csv", "--as", "sales", "--save"]
    assert main(call) == 2  # nothing is the price
    shown = capsys.readouterr().err
    assert "needs: price." in shown
    assert "--set price=…" in shown
    assert main([*call, "--set", "price=Takings", "--set", "quantity=1", "--set", "product=What"]) == 0
    saved = shop.path("mappings") / "till-2026.toml"
    text = saved.read_text(encoding="utf-8")
    assert "# Left out: Customer (about a buyer; never stored), Mood (not needed)\n" in text
    assert "Open: No column" not in text
    (found,) = mapping.load(shop.path("mappings"))
    assert found.record == "sales"
    assert found.columns["date"] == "Sold on"
    assert found.fits("till [2026].csv", "")
    assert not found.fits("till 2.csv", "")  # the brackets of the name are no pattern
    assert found.columns == {"date": "Sold on", "channel": "Where", "product": "What", "price": "Takings"}
    assert found.constants == {"quantity": "1"}
    saved.write_text(text.replace('date_order = ""', 'date_order = "year"'), encoding="utf-8")
    found = mapping.read(saved)
    (after,) = proposal.propose(shop, Path("inbox/till [2026].csv"))
    assert after.used == found


def test_a_mapping_that_is_there_stays_as_it_is(shop: Shop) -> None:
    other = shop.path("mappings") / "hours.toml"
    other.parent.mkdir()
    other.write_text('files = "other.csv"\nrecord = ""\n', encoding="utf-8")
    (own,) = proposal.save_new(shop, proposal.propose(shop, Path("inbox/hours.csv")))
    assert own.name == "hours-2.toml"  # the name is taken by a mapping of another file
    text = own.read_text(encoding="utf-8")
    with pytest.raises(UserError, match="already"):
        proposal.save_new(shop, proposal.propose(shop, Path("inbox/hours.csv")))
    assert own.read_text(encoding="utf-8") == text
    assert "other.csv" in other.read_text(encoding="utf-8")


def test_a_table_that_could_be_two_records_is_not_saved_without_a_word(shop: Shop) -> None:
    (shop.folder / "inbox" / "list.csv").write_text(TORN, encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/list.csv"))
    assert found.torn
    assert found.used is None
    with pytest.raises(UserError, match="This could be"):
        proposal.save_new(shop, [found])
    (settled,) = proposal.propose(shop, Path("inbox/list.csv"), found.torn)
    assert (settled.mapping.record, settled.torn) == (found.torn, "")
    gaps = dict.fromkeys(settled.missing, "1")
    filled = proposal.propose(shop, Path("inbox/list.csv"), found.torn, gaps)
    assert proposal.save_new(shop, filled) == [shop.path("mappings") / "list.toml"]
    assert mapping.read(shop.path("mappings") / "list.toml").constants == gaps


def test_each_sheet_of_a_workbook_gets_a_mapping_of_its_own(shop: Shop, tmp_path: Path) -> None:
    from pipeline.new_shop import new_shop

    other = new_shop(tmp_path / "new", shop["start"])
    found = proposal.propose(other, Path("inbox/entry.xlsx"))
    paths = proposal.save_new(other, found)
    assert [path.name for path in paths][:2] == ["entry-purchases.toml", "entry-pieces.toml"]
    read = {m.record: m.sheets for m in mapping.load(other.path("mappings"))}
    assert read == {p.sheet: p.sheet for p in found}


@pytest.mark.parametrize(
    ("file", "record", "message"),
    [
        ("inbox/none.csv", "", "no such file"),
        ("inbox/hours.csv", "sails", "no record"),
        ("shop.toml", "", "not in the shop's inbox"),
        ("inbox/empty.csv", "", "no rows"),
    ],
)
def test_a_wrong_call_says_what_to_do(shop: Shop, file: str, record: str, message: str) -> None:
    (shop.folder / "inbox" / "empty.csv").write_text("", encoding="utf-8")
    with pytest.raises(UserError, match=message) as raised:
        proposal.propose(shop, Path(file), record)
    assert raised.value.mend


def test_a_file_outside_of_the_shop_is_not_read(shop: Shop, tmp_path: Path) -> None:
    outside = tmp_path / "till.csv"
    outside.write_text(TILL, encoding="utf-8")
    with pytest.raises(UserError, match="not in the shop's inbox"):
        proposal.propose(shop, outside)


def test_a_refresh_and_a_check_name_the_command_that_settles_a_file(shop: Shop, capsys: Capture) -> None:
    (shop.folder / "inbox" / "list of 3.csv").write_text(
        TORN.replace("Note", "No").replace(",a", ",3"), encoding="utf-8"
    )
    (shop.folder / "inbox" / "things.csv").write_text("Thing,Done?\nMOT,y\nwipers,\n", encoding="utf-8")
    command = f"kerfledger map {shop.folder} 'inbox/list of 3.csv'"
    assert main(["refresh", str(shop.folder)]) == 0
    shown = capsys.readouterr().out
    assert f"settle it with: {command}" in shown
    assert "It could be" in shown
    assert "inbox/things.csv: passed over, since nothing in it looks like a record of the shop" in shown
    main(["check", str(shop.folder)])
    shown = capsys.readouterr().out
    assert f"Settle it with: {command}" in shown
    assert "inbox/list of 3.csv: " in shown


@pytest.mark.parametrize(
    ("settled", "message"), [({"note": "Customer"}, "about a buyer"), ({"mood": "Mood"}, "no field 'mood'")]
)
def test_what_cannot_be_settled_so_is_refused(shop: Shop, settled: dict[str, str], message: str) -> None:
    with pytest.raises(UserError, match=message):
        proposal.propose(shop, Path("inbox/till [2026].csv"), "sales", settled)


def test_a_field_moves_from_the_column_proposed_to_the_one_that_is_set(shop: Shop) -> None:
    (found,) = proposal.propose(shop, Path("inbox/till [2026].csv"), "sales", {"product": "Mood"})
    assert found.mapping.columns["product"] == "Mood"
    assert [g.header for g in found.columns if g.why == "settled"] == ["What", "Mood"]


def asks(found: proposal.Proposal) -> list[tuple[str, str]]:
    return [(question.kind, question.field) for question in found.questions]


def test_what_is_set_closes_its_questions_and_no_other(shop: Shop) -> None:
    """Setting which column is the price says nothing of its tax, and nothing of another field."""
    head = "Date,Channel,Product,Price,Gross_price,Fee of channel\n"
    rows = "2026-03-01,market,tray,45.50,54.60,2.25\n2026-03-02,market,bowl,60.00,72.00,3.10\n"
    (shop.folder / "inbox" / "x.csv").write_text(head + rows, encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/x.csv"), "sales")
    assert ("column", "channel_fee") in asks(found)
    (told,) = proposal.propose(shop, Path("inbox/x.csv"), "sales", {"price": "Gross_price"})
    assert set(asks(told)) == {("column", "channel_fee"), ("taxed", "price")}
    assert "# Open: Does “Gross_price” hold the tax?" in proposal.mapping_text(told)
    (told,) = proposal.propose(shop, Path("inbox/x.csv"), "sales", {"gross": "Gross_price"})
    assert ("taxed", "price") not in asks(told)
    (told,) = proposal.propose(shop, Path("inbox/x.csv"), "sales", {"channel_fee": "Fee of channel"})
    assert ("column", "channel_fee") not in asks(told)


@pytest.mark.parametrize("name", ["order_no", "price"])
def test_a_needed_field_that_all_rows_have_is_asked_for_no_more(shop: Shop, name: str) -> None:
    record = {"price": "sales", "order_no": "orders"}[name]
    (shop.folder / "inbox" / "x.csv").write_text("Date,Mood\n2026-03-01,fine\n2026-03-02,grey\n", encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/x.csv"), record)
    assert ("needed", name) in asks(found)
    (told,) = proposal.propose(shop, Path("inbox/x.csv"), record, {name: "5"})
    assert set(asks(found)) - set(asks(told)) == {("needed", name)}


def test_a_table_of_which_nothing_is_known_is_not_torn(shop: Shop) -> None:
    (shop.folder / "inbox" / "x.csv").write_text("zibbel,zabbel\na,b\nc,d\n", encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/x.csv"))
    assert asks(found)[0][0] == "record"
    assert bool(found.torn) == found.questions[0].ask.startswith("It could be")


def test_rows_with_far_too_many_cells_take_nothing_from_what_the_others_show(shop: Shop) -> None:
    path = shop.folder / "inbox" / "till [2026].csv"
    days = [f"2026-03-{day:02},market,tray,{40 + day},Buyer,fine" for day in range(1, 31)]
    path.write_text("\n".join([TILL.splitlines()[0], *days]), encoding="utf-8")
    (plain,) = proposal.propose(shop, Path("inbox/till [2026].csv"))
    torn = [f"{line},{','.join(str(n) for n in range(600))}" if n % 3 == 0 else line for n, line in enumerate(days)]
    path.write_text("\n".join([TILL.splitlines()[0], *torn]), encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/till [2026].csv"))
    assert (found.mapping.record, found.mapping.columns) == (plain.mapping.record, plain.mapping.columns)
    # one of its columns is about buyers, so that these may be too; of others nothing is shown either
    assert {(guess.why, guess.samples) for guess in found.columns[6:]} == {("private", ())}
    path.write_text(path.read_text(encoding="utf-8").replace("Customer", "Colour"), encoding="utf-8")
    (found,) = proposal.propose(shop, Path("inbox/till [2026].csv"))
    assert {(guess.why, guess.samples) for guess in found.columns[6:]} == {("not known", ())}


def test_a_table_is_weighed_twice_at_most(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []

    def counted(*args: object, **named: object) -> suggestion.Suggestion:
        calls.append(args)
        return weighed(*args, **named)  # type: ignore[arg-type]

    weighed = suggestion.suggest
    monkeypatch.setattr(suggestion, "suggest", counted)
    monkeypatch.setattr(proposal, "suggest", counted)
    proposal.propose(shop, Path("inbox/till [2026].csv"))
    assert len(calls) == 2


def test_mappings_that_say_the_same_in_another_order_are_one(shop: Shop) -> None:
    head = 'record = "sales"\nheadings = ["d", "c", "p"]\n'
    columns = ['date = "d"', 'channel = "c"', 'price = "p"']
    mappings = [
        mapping.checked(name, f'files = "{name}.csv"\n{head}[columns]\n' + "\n".join(order) + "\n", Path(name))
        for name, order in (("a", columns), ("b", columns[::-1]))
    ]
    (shop.folder / "inbox" / "c.csv").write_text("d,c,p\n2026-03-01,market,5\n", encoding="utf-8")
    (table,) = read(shop.folder / "inbox" / "c.csv")
    assert suggestion.settled_for(mappings, "c.csv", table) is mappings[1]
    other = replace(mappings[1], columns={"date": "d", "channel": "p", "price": "c"})
    assert suggestion.settled_for([mappings[0], other], "c.csv", table) is None


def test_a_sheet_of_notes_beside_others_is_passed_over(shop: Shop) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(str(shop.folder / "inbox" / "book.xlsx")) as book:
        notes = book.add_worksheet("Read me")
        notes.write_column(0, 0, ["How this book is kept", "By hand, on Fridays", "In ink"])
        hours = book.add_worksheet("Hours")
        for row, line in enumerate(PLAIN.splitlines()):
            hours.write_row(row, 0, line.split(","))
    found = proposal.propose(shop, Path("inbox/book.xlsx"))
    assert [bool(p.mapping.columns) for p in found] == [False, True]
    first, second = map(mapping.read, proposal.save_new(shop, proposal.without_notes(found)))
    assert (first.record, first.sheets, second.record) == ("", "Read me", "hours")


def test_each_sheet_is_settled_on_its_own_by_the_command_too(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(str(shop.folder / "inbox" / "year.xlsx")) as book:
        for name, header in (("Bank", ["Tag", "Zweck", "Minus", "Plus"]), ("Kasse", ["Tag", "Was", "Minus", "Plus"])):
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, header)
            sheet.write_row(1, 0, ["2026-01-05", "Holz", 119.0, ""])
            sheet.write_row(2, 0, ["2026-01-06", "Markt", "", 80.0])
    call = [
        "map",
        str(shop.folder),
        "inbox/year.xlsx",
        "--as",
        "payments",
        "--set",
        "date=Tag",
        "--set",
        "kind=supplier",
    ]
    assert main([*call, "--sheet", "Till", "--save"]) == 2
    assert "Its sheets with rows: “Bank”, “Kasse”." in capsys.readouterr().err
    said = ["--set", "money_out=Minus", "--set", "money_in=Plus", "--save"]
    assert main([*call, "--sheet", "kasse", *said]) == 0
    (found,) = [m for m in mapping.load(shop.path("mappings")) if m.files == "year.xlsx"]
    assert (found.name, found.sheets, found.record) == ("year-kasse", "Kasse", "payments")
    assert found.helpers == {"money_out": "Minus", "money_in": "Plus"}
    bank, till = proposal.propose(shop, Path("inbox/year.xlsx"))
    assert (bank.how, till.how, till.preview.loaded) == ("", "mapping file", 2)
    capsys.readouterr()
    main(["map", str(shop.folder), "inbox/year.xlsx"])
    assert "inbox/year.xlsx --sheet Bank " in capsys.readouterr().out
    assert main([*call, "--sheet", "Bank", "--set", "money_out=Minuss"]) == 2
    assert "There is no column “Minuss”" in capsys.readouterr().err


def test_the_command_and_the_page_come_to_one_mapping(shop: Shop) -> None:
    """Both settle this table: what either saved the other finds, shows and saves anew under its name."""
    path = Path("inbox/till [2026].csv")
    (asked,) = proposal.propose(shop, path, "sales", {"price": "Takings", "product": "What", "quantity": "1"})
    told = proposal.settled(shop, path, "", proposal.Answers("sales", asked.mapping.columns, asked.mapping.constants))
    assert (told.mapping, told.preview, told.unsettled) == (asked.mapping, asked.preview, "")
    saved = proposal.save(shop, told)
    mine = saved.rename(saved.with_name("by hand.toml"))
    mine.write_text(f"tax_included = true\n{mine.read_text(encoding='utf-8')}", encoding="utf-8")
    (found,) = proposal.propose(shop, path)
    assert (found.how, found.mapping.tax_included) == ("mapping file", True)
    anew = proposal.settled(shop, path, "", proposal.Answers("sales", {**asked.mapping.columns, "note": "Mood"}))
    assert (anew.mapping.name, anew.mapping.tax_included) == ("by hand", True)
    with pytest.raises(UserError, match="needs: "):
        proposal.save(shop, proposal.settled(shop, path, "", proposal.Answers("sales", {"date": "Sold on"})))
    assert proposal.save(shop, anew) == mine


def test_the_command_says_what_a_refresh_would_make_of_the_rows(shop: Shop, capsys: Capture) -> None:
    (shop.folder / "inbox" / "hours.csv").write_text(PLAIN + "2026-03-02,Ada,sanding,soon\n", encoding="utf-8")
    main(["map", str(shop.folder), "inbox/hours.csv"])
    shown = capsys.readouterr().out
    assert "So read, 1 of 2 rows would be in the figures." in shown
    assert "Row 3 would be set aside: hours “soon”" in shown


@pytest.mark.parametrize(
    ("file", "record"),
    [("usage.csv", "usage"), ("counts.csv", "counts"), ("shelf.csv", "counts"), ("pieces counted.csv", "counts")],
)
def test_headers_of_one_record_in_a_file_called_as_another_that_they_fit_too(
    shop: Shop, capsys: Capture, file: str, record: str
) -> None:
    """A use that is read as a count would make all that was used a loss."""
    (shop.folder / "inbox" / file).write_text(
        "date,item,quantity,unit,piece\n2026-02-03,hinge,2,pc,T-1\n2026-02-04,screw,8,pc,T-1\n", encoding="utf-8"
    )
    assert main(["map", str(shop.folder), f"inbox/{file}", "--json"]) == 0
    (table,) = json.loads(capsys.readouterr().out)
    assert (table["record"], bool(table["read_by"])) == (record, True)
