"""Saved quotes: written whole under the lock, read back by a refresh, beside the true cost; and the client's page."""

import json
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.pages import actions
from pipeline.quoting import saved_quotes
from pipeline.tables import intake
from tests.refreshed import refreshed

Capture = pytest.CaptureFixture[str]
CALL = ["--product", "tray", "--species", "walnut", "--finish", "resin inlay", "--length", "18in", "--width", "12in"]
CALL += ["--thickness", "1in"]

QUOTE: dict[str, Any] = {
    "on_date": "2026-05-31",
    "product": "tray",
    "quantity": 2,
    "quoted_price_cents": 15_000,
    "predicted_10_cents": 9_000,
    "predicted_50_cents": 10_000,
    "predicted_90_cents": 12_000,
    "quoted_hours": 2.5,
}


@pytest.fixture
def shop(demo: Path, tmp_path: Path) -> Path:
    """The demo shop with its database, to be written to."""
    folder = tmp_path / "demo-shop"
    (folder / "database").mkdir(parents=True)
    shutil.copy(demo / "shop.toml", folder)
    (newest,) = sorted((demo / "database").glob("*.duckdb"))[-1:]
    shutil.copy(newest, folder / "database")
    return folder


def test_quotes_are_numbered_and_never_written_over(tmp_path: Path) -> None:
    first, second = saved_quotes.save(tmp_path, QUOTE), saved_quotes.save(tmp_path, QUOTE)
    assert [first.name, second.name] == ["Q-001.json", "Q-002.json"]
    named = saved_quotes.save(tmp_path, QUOTE, "oak-12")
    assert named.stem == "OAK-12"
    with pytest.raises(UserError, match="of this name"):
        saved_quotes.save(tmp_path, QUOTE | {"quantity": 9}, "oak-12")
    assert saved_quotes.read(named)["quantity"] == 2


@pytest.mark.parametrize("tag", ["../up", "a/b", ".hidden", "x" * 41, "two words"])
def test_a_name_cannot_lead_out_of_the_folder(tmp_path: Path, tag: str) -> None:
    with pytest.raises(UserError, match="can't be called"):
        saved_quotes.save(tmp_path, QUOTE, tag)
    assert not [p for p in tmp_path.rglob("*") if p.is_file() and p.name != ".lock"]


def test_two_at_a_time_take_two_numbers(tmp_path: Path) -> None:
    with ThreadPoolExecutor(8) as pool:
        files = list(pool.map(lambda _: saved_quotes.save(tmp_path, QUOTE), range(8)))
    assert sorted(file.stem for file in files) == [f"Q-00{n}" for n in range(1, 9)]
    # nothing half written is left
    assert sorted(p.name for p in (tmp_path / "quotes").iterdir()) == sorted(file.name for file in files)


@pytest.mark.parametrize(
    "text",
    [
        "not json",
        "[]",
        json.dumps(QUOTE | {"on_date": "soon"}),
        json.dumps(QUOTE | {"on_date": "2026-02-30"}),
        json.dumps(QUOTE | {"quantity": None}),
        json.dumps(QUOTE | {"quantity": 1.5}),
        json.dumps(QUOTE | {"predicted_50_cents": True}),
        json.dumps(QUOTE | {"predicted_50_cents": 10**30}),
        json.dumps(QUOTE | {"quoted_hours": float("nan")}),
        json.dumps(QUOTE | {"product": 7}),
    ],
)
def test_a_broken_quote_is_listed_and_the_others_stay(tmp_path: Path, text: str) -> None:
    saved_quotes.save(tmp_path, QUOTE)
    (tmp_path / "quotes" / "Q-9.json").write_text(text, encoding="utf-8")
    frame, broken = saved_quotes.frame(tmp_path)
    assert frame["quote"].to_list() == ["Q-001"]
    assert [name for name, _ in broken] == ["quotes/Q-9.json"]


def test_one_name_in_two_spellings_is_one_quote(tmp_path: Path) -> None:
    saved_quotes.save(tmp_path, QUOTE)
    (tmp_path / "quotes" / "q-001.json").write_text(json.dumps(QUOTE), encoding="utf-8")
    frame, broken = saved_quotes.frame(tmp_path)
    assert (frame.height, len(broken)) == (1, 1)


def test_a_quote_comes_to_stand_beside_its_true_cost(tiny_shop: Path) -> None:
    saved_quotes.save(tiny_shop, QUOTE)
    (tiny_shop / "quotes" / "broken.json").write_text("{", encoding="utf-8")
    files = {
        "orders": "order_no,date,product,price,quote\nO-1,2026-05-31,tray,300,q-001\n",
        "pieces": "piece,product,quantity,finished,order_no,status,ended\nP-1,tray,2,2026-06-20,O-1,,\n"
        "P-0,tray,1,,O-1,scrapped,2026-06-02\n",
        "hours": "date,person,operation,hours,pieces\n2026-06-10,Ada,sanding,6:00,P-1\n",
    }
    for name, text in files.items():
        (tiny_shop / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(tiny_shop)
    with open_newest(tiny_shop) as con:
        row = con.execute(
            "select order_no, first_piece, units, unit_cents, unit_hours, predicted_50_cents, inside from price.quoted"
        )
        # six hours at 30.00 for two
        assert row.fetchall() == [("O-1", "P-1", 2, 9_000, 3.0, 10_000, True)]
        listed = con.execute("select how, message from intake.file where file = 'quotes/broken.json'").fetchall()
    assert listed[0][0] == "unreadable"


def test_the_command_prints_saves_and_writes_the_page(shop: Path, tmp_path: Path, capsys: Capture) -> None:
    page = tmp_path / "page.html"
    assert main(["quote", str(shop), *CALL, "--margin", "0.4", "--quantity", "2", "--save", "--sheet", str(page)]) == 0
    shown = capsys.readouterr().out
    for words in (
        "Cost: ",
        "rework, ",
        "Price, for a margin of 40 % of the price",
        "markup",
        "leans most on P-",
        "In a run",
    ):
        assert words in shown
    for words in ("unsold ones counted", "between 10 % and 90 %", "Name Q-001 in the order"):
        assert words in shown
    stored = saved_quotes.read(shop / "quotes" / "Q-001.json")
    assert set(intake("quote")) - {"file"} <= set(stored)
    assert (stored["quantity"], stored["species"], stored["finish"]) == (2, "black walnut", "resin inlay")
    assert page.read_text(encoding="utf-8") == (shop / "quotes" / "Q-001.html").read_text(encoding="utf-8")
    # a page that is there is not written over
    assert main(["quote", str(shop), *CALL, "--sheet", str(page)]) == 2


def test_the_command_gives_json_and_says_what_is_wrong(shop: Path, capsys: Capture) -> None:
    assert main(["quote", str(shop), *CALL, "--pay", "35", "--channel", "market", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["channel"], found["wish"]["pay_cents"]) == ("market", 3_500)
    assert found["cost"]["history_pieces"] > 300
    assert {p["channel"] for p in found["prices"]} == {"market", "online", "commission", "gallery"}
    assert len(found["leant_on"]) == 6
    assert [row["level"] for row in found["score"]] == ["tray", ""]
    assert main(["quote", str(shop), *CALL, "--length", "wide"]) == 2
    assert "--length" in capsys.readouterr().err


def test_the_actions_of_a_page(shop: Path) -> None:
    offered = actions.quote_choices(shop)
    assert "tray" in offered["product"]
    found = actions.quote(
        shop, {"product": "tray", "length": "16in", "width": "10in", "thickness": "1in", "strange": 1}
    )
    saved = actions.save_quote(shop, found, channel="market")
    assert Path(saved["file"]).is_file()
    assert saved_quotes.read(Path(saved["file"]))["channel"] == "market"
    with pytest.raises(UserError, match="no price for"):
        actions.save_quote(shop, found, channel="moon")


def test_the_clients_page_shows_price_and_terms_and_no_costs(shop: Path) -> None:
    asked = {"product": "tray <b>", "finish": "resin inlay", "length": "16in", "width": "10in", "thickness": "1in"}
    found = actions.quote(shop, asked | {"quantity": 2})
    page = actions.quote_sheet(found, "market", "Q-7")
    price = next(p for p in found["prices"] if p["channel"] == "market")
    digits = f"{price['asked_cents'] / 100:,.2f}"
    for words in (
        digits,
        f"{2 * price['asked_cents'] / 100:,.2f}",
        "Q-7",
        "2026",
        "16in × 10in × 1in",
        "50 %",
        "data sheet",
    ):
        assert words in page
    assert "tray &lt;b&gt;" in page
    cost = found["cost"]
    secret = {
        *cost["parts"].values(),
        *cost["at"].values(),
        cost["parts_cents"],
        price["least_cents"],
        price["profit_cents"],
    }
    assert [cents for cents in secret if f"{cents / 100:,.2f}" in page] == []
    body = page[page.index("<body>") :]
    for words in ("margin", "markup", "labour", "overhead", "profit", "hour", "cost"):
        assert words not in body.lower(), words
    # nothing is fetched from anywhere
    assert "http" not in page
    assert "src=" not in page


@pytest.mark.browser
def test_the_clients_page_prints_on_one_page(shop: Path, tmp_path: Path) -> None:
    browser = shutil.which("chromium")
    if not browser:
        pytest.skip("needs Debian's chromium")
    asked = {"product": "side table", "species": "walnut", "finish": "cast river", "length": "48in", "width": "20in"}
    found = actions.quote(shop, asked | {"thickness": "2in", "quantity": 12}) | {"terms": "Our terms. " * 60}
    (tmp_path / "page.html").write_text(actions.quote_sheet(found, "market", "Q-1"), encoding="utf-8")
    call = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    call += [f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={tmp_path / 'page.pdf'}"]
    subprocess.run([*call, (tmp_path / "page.html").as_uri()], capture_output=True, timeout=60, check=True)
    pages = (tmp_path / "page.pdf").read_bytes().count(b"/Type /Page\n")
    assert pages == 1
