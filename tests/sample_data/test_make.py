import csv
import json
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline import mapping, readers, shop
from pipeline.cleaning import Cleaned, clean
from pipeline.proposing import suggestion
from sample_data import make as maker
from sample_data import workshop
from sample_data.make import make

SAMPLE = Path(maker.__file__).parent


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    make(folder / "demo", truth=folder / "truth")
    return folder


@pytest.fixture(scope="module")
def totals(made: Path) -> dict[str, Any]:
    return json.loads((made / "truth" / "totals.json").read_text())


@pytest.fixture(scope="module")
def cleaned(made: Path) -> dict[tuple[str, str], Cleaned]:
    """Every table of the pile that holds records, cleaned, by file and sheet."""
    demo = shop.load(made / "demo")
    mappings = mapping.load(made / "demo" / "mappings")
    tables = {}
    for path in sorted((made / "demo" / "inbox").rglob("*.*")):
        name = path.relative_to(made / "demo" / "inbox").as_posix()
        for table in readers.read(path):
            how = suggestion.choose(mappings, name, table, demo)
            assert how is not None, f"nothing says how to read {name}"
            if how.record:
                tables[name, table.sheet] = clean(table, how, demo, name)
    return tables


def together(cleaned: dict[tuple[str, str], Cleaned], record: str) -> pl.DataFrame:
    return pl.concat([table.frame for table in cleaned.values() if table.record == record])


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def contents(folder: Path) -> dict[str, bytes | dict[str, bytes]]:
    """Every file's bytes by name; of a workbook its parts, since another zlib may pack them otherwise."""
    found: dict[str, bytes | dict[str, bytes]] = {}
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        name = path.relative_to(folder).as_posix()
        if path.suffix == ".xlsx":
            with zipfile.ZipFile(path) as book:
                found[name] = {part: book.read(part) for part in book.namelist()}
        else:
            found[name] = path.read_bytes()
    return found


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        make(tmp_path / name / "demo", pieces=50, truth=tmp_path / name / "truth")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")
    make(tmp_path / "other" / "demo", pieces=50, seed=7)
    assert contents(tmp_path / "one" / "demo") != contents(tmp_path / "other" / "demo")


@pytest.mark.parametrize("folder", ["demo", "truth"])
def test_the_committed_sample_is_what_make_writes(made: Path, folder: str) -> None:
    written, committed = contents(made / folder), contents(SAMPLE / folder)
    assert sorted(written) == sorted(committed)
    assert [name for name in written if written[name] != committed[name]] == []


def test_the_sample_has_the_named_sizes(cleaned: dict[tuple[str, str], Cleaned], totals: dict[str, Any]) -> None:
    sizes = {
        "pieces": together(cleaned, "pieces").height,
        "hours": together(cleaned, "hours").height,
        "purchases": totals["purchases"]["lines"],
        "pours": together(cleaned, "pours").height,
        "sales": totals["sales"]["rows"],
    }
    named = {"pieces": 400, "hours": 4500, "purchases": 900, "pours": 500, "sales": 600}
    assert {name: size for name, size in sizes.items() if abs(size / named[name] - 1) > 0.06} == {}
    assert (totals["first_day"], totals["last_day"]) == ("2023-11-01", "2026-10-31")


def test_the_files_hold_the_rows_and_the_broken_ones_that_the_truth_names(
    made: Path, cleaned: dict[tuple[str, str], Cleaned]
) -> None:
    facts = json.loads((made / "truth" / "files.json").read_text())
    assert len(facts) > 25
    for fact in facts:
        if not fact["record"]:
            continue
        table = cleaned[fact["file"], fact["sheet"]]
        # a tag used twice shows only over all files, after cleaning
        expected = {code: count for code, count in fact["broken"].items() if code != "tag-twice"}
        found = Counter(table.rejected["code"].to_list())
        assert (fact["file"], found) == (fact["file"], Counter(expected))
        assert (fact["file"], table.frame.height + table.rejected.height) == (fact["file"], fact["rows"])


def test_purchases_add_up(cleaned: dict[tuple[str, str], Cleaned], totals: dict[str, Any]) -> None:
    lines = together(cleaned, "purchases")
    once = lines.unique(["receipt", "on_date", "item", "amount_cents", "lot", "event"])
    assert lines.height > once.height, "a receipt was entered twice"
    assert once.height == totals["purchases"]["lines"]
    assert once["amount_cents"].sum() == totals["purchases"]["amount_cents"]


def test_receipts_agree_with_their_totals(made: Path) -> None:
    lines = rows_of(made / "demo" / "inbox" / "receipts" / "purchases-2026.csv")
    receipts: dict[str, list[dict[str, str]]] = {}
    for line in lines:
        if line["receipt"]:
            receipts.setdefault(line["receipt"], []).append(line)
    for tag, own in receipts.items():
        entries = sum(bool(line["total"]) for line in own)
        cents = {name: round(100 * float(own[0][name])) for name in ("tax", "freight", "discount", "total")}
        goods = sum(round(100 * float(line["amount"])) for line in own) // entries
        assert (tag, goods + cents["tax"] + cents["freight"] - cents["discount"]) == (tag, cents["total"])


def test_hours_add_up(cleaned: dict[tuple[str, str], Cleaned], totals: dict[str, Any]) -> None:
    hours = together(cleaned, "hours")
    assert hours.height == totals["hours"]["rows_written"]
    assert hours["seconds"].sum() == totals["hours"]["seconds_written"]


def test_pours_add_up(made: Path, cleaned: dict[tuple[str, str], Cleaned]) -> None:
    densities = pl.DataFrame(
        [(name, resin.density_a, resin.density_b) for name, resin in workshop.RESINS.items()],
        schema=["resin", "a", "b"],
        orient="row",
    )
    mixed = (
        together(cleaned, "pours")
        .join(densities, on="resin")
        .group_by("pour")
        .agg((pl.col("part_a") * pl.col("a") + pl.col("part_b") * pl.col("b")).sum().alias("mg"))
    )
    truth = pl.DataFrame(rows_of(made / "truth" / "pours.csv")).select("pour", pl.col("mixed_mg").cast(pl.Int64))
    both = mixed.join(truth, on="pour", how="full")
    assert both.null_count().sum_horizontal().item() == 0
    # the log's tenths of an ounce become whole microlitres: at most half a microlitre of each part
    assert both.select((pl.col("mg") - pl.col("mixed_mg")).abs().max()).item() <= 2


def test_sales_are_all_in_the_slips(
    made: Path, cleaned: dict[tuple[str, str], Cleaned], totals: dict[str, Any]
) -> None:
    stale = "sales/online-2026-a.csv"
    slips = pl.concat([t.frame for (file, _), t in cleaned.items() if t.record == "sales" and file != stale])
    online = slips.filter(pl.col("channel") == "online").unique(["order_no", "quantity"])
    rest = slips.filter(pl.col("channel") != "online")
    assert online.height + rest.height == totals["sales"]["rows"]
    assert online["quantity"].sum() + rest["quantity"].sum() == totals["sales"]["units"]
    untagged = sum(sale["tagged"] == "0" for sale in rows_of(made / "truth" / "sales.csv"))
    assert slips["piece"].null_count() == untagged > 20


def test_the_book_agrees_with_the_true_sizes(made: Path, cleaned: dict[tuple[str, str], Cleaned]) -> None:
    truth = pl.DataFrame(rows_of(made / "truth" / "pieces.csv")).select("piece", pl.col("blank_mm3").cast(pl.Int64))
    blank = pl.col("blank_length_um") * pl.col("blank_width_um") * pl.col("blank_thickness_um") / 1e9
    book = together(cleaned, "pieces").with_columns((blank * pl.col("quantity")).alias("mm3"))
    both = book.drop_nulls("mm3").join(truth, on="piece")
    assert both.height > 360
    assert (
        both.select((pl.col("mm3") - pl.col("blank_mm3")).abs().max()).item() <= 8
    )  # half a mm³ a unit, up to 8 units


def test_wood_cents_are_conserved(made: Path) -> None:
    expected = 0
    for lot in rows_of(made / "truth" / "lots.csv"):
        cents, cut, size = int(lot["cents"]), int(lot["cut_mm3"]), max(int(lot["mm3"]), int(lot["cut_mm3"]))
        whole = lot["closed"] and lot["split"] == "0" and cut
        expected += cents if whole else (2 * cents * cut + size) // (2 * size)
    pieces = rows_of(made / "truth" / "pieces.csv")
    assert sum(int(piece["wood_cents"]) + int(piece["offcut_cents"]) for piece in pieces) == expected


def test_the_shelf_never_lacks_what_is_used(made: Path) -> None:
    items = {item["item"]: item for item in rows_of(made / "truth" / "items.csv")}
    assert set(items) == set(workshop.ITEMS)
    assert [name for name, item in items.items() if int(item["on_hand"]) < 0] == []
    resin = [items[name] for name in workshop.RESINS]
    mixed = sum(int(pour["mixed_mg"]) for pour in rows_of(made / "truth" / "pours.csv"))
    assert sum(int(item["used"]) for item in resin) == mixed
    assert sum(int(item["bought"]) for item in resin) > mixed


def test_about_a_third_of_the_resin_is_lost(made: Path) -> None:
    pours = rows_of(made / "truth" / "pours.csv")
    good = sum(1000 * (int(pour["deposited_g"]) - int(pour["trimmed_g"])) for pour in pours)
    items = {item["item"]: item for item in rows_of(made / "truth" / "items.csv")}
    gone = sum(int(items[name]["used"]) + int(items[name]["lost"]) for name in workshop.RESINS)
    assert 0.25 < 1 - good / gone < 0.40


def test_the_planted_causes_are_there(totals: dict[str, Any]) -> None:
    rates = {kind: {level: hit / seen for level, (seen, hit, _) in of.items()} for kind, of in totals["rework"].items()}
    seen = sum(of[0] for of in totals["rework"]["species"].values())
    mean = sum(of[1] for of in totals["rework"]["species"].values()) / seen
    assert workshop.WOODS["American elm"].effect == 0
    assert rates["species"]["American elm"] > 1.3 * mean, "elm looks bad"
    assert rates["species"]["boxelder"] > 1.3 * mean
    assert rates["finish"]["flood coat"] > 1.3 * mean
    assert rates["_short"]["true"] > 2 * rates["_short"]["false"]


def test_most_months_gain_and_some_lose(made: Path) -> None:
    """Revenue against a plain reckoning: material and labour at 55 % of the price, and what stands each month."""
    months = rows_of(made / "truth" / "months.csv")
    gains = [0.45 * int(month["revenue_cents"]) - 82500 for month in months]
    assert len(months) == 36
    assert 18 <= sum(gain > 0 for gain in gains) < 36


def test_every_setting_section_is_used(made: Path) -> None:
    demo = shop.load(made / "demo")
    # the demo's exports state their tax themselves, so that it needs no rate of it
    assert [name for name, rows in demo.tables.items() if not rows] == ["tax_rate"]
    assert {"species", "finish", "operation", "product", "item", "unit"} <= set(demo.words)
    rates = [row for row in demo.tables["person_rate"] if row["name"] == "Tobin"]
    assert len(rates) == 2, "one raise"


def test_the_pile_is_messy(made: Path) -> None:
    inbox = made / "demo" / "inbox"
    first_lines = {path.name: path.read_bytes().splitlines()[0] for path in inbox.rglob("*.csv")}
    assert first_lines["receipts-2023-24.csv"].startswith(b"Ostrel & Wick Bench"), "a title"
    assert b";" in first_lines["receipts-2025.csv"]
    assert first_lines["hours-2025.csv"].startswith(b"\xef\xbb\xbf")
    receipts = (inbox / "receipts" / "receipts-2023-24.csv").read_text(encoding="utf-8")
    for sign in ("8/4", " 1/2", " bf", " kit", " fl oz", " kg", "Total,"):
        assert sign in receipts, sign
    hours = (inbox / "hours" / "hours-2023-24.csv").read_text(encoding="utf-8")
    assert ".." in hours and "; " in hours, "shared rows"


def test_no_buyer_is_mapped(made: Path) -> None:
    inbox = made / "demo" / "inbox"
    assert any("Buyer name" in path.read_text(encoding="utf-8") for path in inbox.rglob("online-*.csv"))
    for path in (made / "demo" / "mappings").glob("*.toml"):
        assert "buyer" not in path.read_text(encoding="utf-8").casefold()


def test_the_units_are_the_legal_ones() -> None:
    """NIST Handbook 44, Appendix C: an inch is 25.4 mm, a US gallon 231 cubic inches and 128 fluid ounces; NIST
    Handbook 130: a board foot is 144 cubic inches."""
    assert pytest.approx(144 * 25.4**3, abs=1e-3) == workshop.MM3_PER_BOARD_FOOT
    assert pytest.approx(231 * 25.4**3 / 128 / 1000, abs=1e-9) == workshop.ML_PER_FLUID_OUNCE


def test_it_scales(tmp_path: Path) -> None:
    lines = {}
    for pieces in (50, 200):
        make(tmp_path / str(pieces), pieces=pieces, years=1)
        files = [p for p in (tmp_path / str(pieces) / "inbox").rglob("*.*") if p.suffix != ".xlsx"]
        lines[pieces] = sum(len(path.read_bytes().splitlines()) for path in files)
    # the bills of each month stay as they are, all else grows with the pieces
    assert 2.5 < lines[200] / lines[50] < 4
    assert shop.load(tmp_path / "50")["name"] == workshop.NAME


def test_the_command_takes_its_arguments(tmp_path: Path) -> None:
    maker.main(
        ["--pieces", "20", "--years", "0.5", "--seed", "3", "--truth", str(tmp_path / "truth"), str(tmp_path / "shop")]
    )
    totals = json.loads((tmp_path / "truth" / "totals.json").read_text())
    assert totals["last_day"] == "2024-04-30"
    assert (tmp_path / "shop" / "shop.toml").is_file()


def test_a_lot_is_large_enough_for_the_largest_piece(tmp_path: Path) -> None:
    """No slab is bought that its piece doesn't fit: every lot was cut."""
    make(tmp_path / "shop", pieces=2000, years=1, truth=tmp_path / "truth")
    lots = rows_of(tmp_path / "truth" / "lots.csv")
    assert [lot["lot"] for lot in lots if int(lot["pieces"]) == 0] == []
    assert [lot["lot"] for lot in lots if int(lot["cut_mm3"]) > int(lot["mm3"])] == []
