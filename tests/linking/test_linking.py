"""Linking looks at content only: twins, superseded rows, tags used twice, ids, links."""

from datetime import date
from types import SimpleNamespace
from typing import Any

import polars as pl
import pytest

from pipeline import cleaning, linking
from pipeline.cleaning import signs
from pipeline.records import RECORDS
from pipeline.shop import Shop, load

DAY = date(2026, 1, 5)


@pytest.fixture
def shop(tmp_path: Any) -> Shop:
    (tmp_path / "shop.toml").write_text('name = "Two Benches"\nstart = 2026-01-01\n', encoding="utf-8")
    return load(tmp_path)


def table(record: str, rows: list[dict[str, Any]], file: str, **mapping: Any) -> Any:
    """A cleaned table with the columns given, all others null."""
    schema = cleaning.schema(RECORDS[record])
    filled = [
        dict.fromkeys(schema) | row | {"file": file, "sheet": "", "row": k, "occurrence": 0}
        for k, row in enumerate(rows, 2)
    ]
    how = {"name": "by hand", "supersedes": (), "repeats_total": False, "tax_included": False} | mapping
    return SimpleNamespace(
        record=record,
        frame=pl.DataFrame(filled, schema=schema),
        rejected=pl.DataFrame(schema=linking._REJECTED),
        unknown_words=pl.DataFrame(schema=linking._WORD),
        questions=pl.DataFrame(schema=signs.QUESTION),
        mapping=SimpleNamespace(**how),
    )


def states(linked: linking.Linked, record: str) -> list[tuple[str, int, str]]:
    return linked.row.filter(pl.col("record") == record).sort("file", "row").select("file", "row", "state").rows()


def line(item: str, cents: int, **more: Any) -> dict[str, Any]:
    return {"on_date": DAY, "receipt": "R1", "item": item, "category": "hardware", "amount_cents": cents} | more


def test_a_receipt_entered_twice_counts_once_and_both_places_stay(shop: Shop) -> None:
    again = [line("hinge", 500), line("screw", 200)]
    linked = linking.link([table("purchases", again, "a.csv"), table("purchases", again, "b.csv")], shop)
    assert linked.records["purchases"].height == 2
    assert [state for *_, state in states(linked, "purchases")] == ["loaded", "loaded", "duplicate", "duplicate"]
    twins = linked.row.filter(pl.col("state") == "duplicate")["twin_of"].to_list()
    assert set(twins) <= set(linked.records["purchases"]["row_id"])


def test_the_fuller_of_two_views_is_kept(shop: Shop) -> None:
    rows = [
        table("purchases", [line("hinge", 500)], "a.csv"),
        table("purchases", [line("hinge", 500, note="brass")], "b.csv"),
    ]
    assert linking.link(rows, shop).records["purchases"]["note"].to_list() == ["brass"]


def test_two_equal_lines_of_one_receipt_are_two_lines(shop: Shop) -> None:
    rows = [line("booth fee", 6000), line("booth fee", 6000), line("tape", 100)]
    assert linking.link([table("purchases", rows, "a.csv")], shop).records["purchases"].height == 3
    # and where they are all there is, the receipt's own total says so
    pair = [line("booth fee", 6000, total_cents=12000), line("booth fee", 6000)]
    assert linking.link([table("purchases", pair, "a.csv")], shop).records["purchases"].height == 2


def test_a_return_is_no_reason_to_count_an_order_twice(shop: Shop) -> None:
    sale = {
        "on_date": DAY,
        "order_no": "O1",
        "channel": "online",
        "product": "tray",
        "quantity": 1,
        "price_cents": 9000,
    }
    rows = [table("sales", [sale, sale | {"quantity": -1}], "a.csv"), table("sales", [sale], "b.csv")]
    assert linking.link(rows, shop).records["sales"]["quantity"].to_list() == [-1, 1]


def test_equal_hours_are_two_stretches_of_work(shop: Shop) -> None:
    row = {"on_date": DAY, "seconds": 3600, "operation": "sanding", "pieces": ["P-1"]}
    assert linking.link([table("hours", [row, row], "a.csv")], shop).records["hours"].height == 2


def test_a_tag_used_twice_sets_both_aside(shop: Shop) -> None:
    rows = [
        {"piece": "P-1", "product": "tray"},
        {"piece": "P-1", "product": "clock"},
        {"piece": "P-2", "product": "tray"},
    ]
    linked = linking.link([table("pieces", rows, "a.csv")], shop)
    assert linked.records["pieces"]["piece"].to_list() == ["P-2"]
    assert linked.rejected.select("row", "code").rows() == [(2, "tag-twice"), (3, "tag-twice")]


def test_rows_of_a_pour_that_disagree_are_set_aside(shop: Shop) -> None:
    row = {"pour": "R-1", "on_date": DAY, "resin": "casting resin", "part_a": 100, "part_a_unit": "mg"}
    linked = linking.link(
        [table("pours", [row | {"piece": "P-1"}, row | {"part_a": 200, "piece": "P-2"}], "a.csv")], shop
    )
    assert linked.records["pours"].is_empty()
    assert linked.rejected["code"].unique().to_list() == ["pour-differs"]


def test_a_corrected_export_supersedes_by_the_rule_of_its_mapping(shop: Shop) -> None:
    sale = {
        "on_date": DAY,
        "order_no": "O1",
        "channel": "online",
        "product": "tray",
        "quantity": 1,
        "price_cents": 9000,
    }
    rule = {"supersedes": ("order_no",)}
    rows = [table("sales", [sale], "a.csv", **rule), table("sales", [sale | {"price_cents": 9500}], "b.csv", **rule)]
    linked = linking.link(rows, shop)
    assert linked.records["sales"]["price_cents"].to_list() == [9500]
    assert [state for *_, state in states(linked, "sales")] == ["superseded", "loaded"]


def test_amounts_repeated_on_each_line_count_once(shop: Shop) -> None:
    rows = [line("hinge", 500, freight_cents=300), line("screw", 200, freight_cents=300)]
    linked = linking.link([table("purchases", rows, "a.csv", repeats_total=True)], shop)
    assert linked.records["purchases"]["freight_cents"].drop_nulls().to_list() == [300]


def test_links_that_lead_nowhere_are_emptied_and_listed(shop: Shop) -> None:
    pieces = table("pieces", [{"piece": "P-1", "product": "tray", "lot": "W-9"}], "p.csv")
    hours = table("hours", [{"on_date": DAY, "seconds": 60, "operation": "sanding", "pieces": ["P-1", "P-7"]}], "h.csv")
    linked = linking.link([pieces, hours], shop)
    assert linked.records["pieces"]["lot"].to_list() == [None]
    assert linked.bridges["hours_piece"]["piece"].to_list() == ["P-1"]
    assert linked.unlinked.select("record", "field", "tag").rows() == [
        ("pieces", "lot", "W-9"),
        ("hours", "pieces", "P-7"),
    ]


def test_ids_and_content_do_not_hang_on_files_or_order(shop: Shop) -> None:
    rows = [{"on_date": DAY, "seconds": 60 * k, "operation": "sanding", "pieces": ["P-1"]} for k in (3, 1, 2, 1)]
    whole = linking.link([table("hours", rows, "a.csv")], shop)
    split = linking.link([table("hours", rows[2:][::-1], "z.csv"), table("hours", rows[:2], "b.csv")], shop)
    assert whole.records["hours"].equals(split.records["hours"])
    assert whole.row.height == split.row.height


def test_a_change_on_record_stands_beside_those_of_the_settings(shop: Shop) -> None:
    (shop.folder / "shop.toml").write_text(
        'name = "Two Benches"\nstart = 2026-01-01\n[[changes]]\nname = "heater"\nday = 2026-02-01\n', encoding="utf-8"
    )
    marked = table("changes", [{"on_date": DAY, "change": "new oil"}], "log/2026-01-05-changes.csv")
    linked = linking.link([marked, marked], load(shop.folder))
    assert linked.settings["change"].select("name", "day").rows() == [("heater", date(2026, 2, 1)), ("new oil", DAY)]
    row = linked.row.filter(pl.col("row_id") == linked.settings["change"]["row_id"][1]).row(0, named=True)
    assert (row["record"], row["file"], row["row"]) == ("changes", "log/2026-01-05-changes.csv", 2)
