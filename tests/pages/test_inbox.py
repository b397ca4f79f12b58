"""Files dropped in by a page: never over another, what is made of them, mappings settled, rows mended."""

import errno
import os
from pathlib import Path

import pytest

from pipeline import mapping
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.pages import inbox
from pipeline.proposing import proposal
from pipeline.proposing.proposal import Answers, Proposal
from pipeline.shop import Shop, load
from tests.refreshed import refreshed

SALES = "date,channel,product,price\n2026-03-02,market,tray,60\n2026-03-03,market,tray,sixty\n"
ODD = "When,Who,What,Got\n2026-03-02,Ann,tray,60\n2026-03-03,Bo,bowl,45\n"


@pytest.fixture
def shop(tiny_shop: Path) -> Shop:
    return load(tiny_shop)


def tried(
    shop: Shop, file: str, record: str, columns: dict[str, str], constants: dict[str, str] | None = None
) -> Proposal:
    return proposal.settled(shop, shop.folder / file, "", Answers(record, columns, constants or {}))


def settle(shop: Shop, file: str, record: str, columns: dict[str, str], constants: dict[str, str] | None = None) -> str:
    path = proposal.save(shop, tried(shop, file, record, columns, constants))
    return path.relative_to(shop.folder).as_posix()


def test_a_file_is_never_put_over_another(shop: Shop) -> None:
    assert inbox.drop(shop, "sales.csv", b"a,b\n1,2\n") == "inbox/sales.csv"
    assert inbox.drop(shop, "sales.csv", b"a,b\n3,4\n") == "inbox/sales (2).csv"
    assert inbox.drop(shop, "sales.csv", b"a,b\n1,2\n") == "inbox/sales.csv"  # the same once more
    assert (shop.path("inbox") / "sales.csv").read_bytes() == b"a,b\n1,2\n"
    assert sorted(p.name for p in shop.path("inbox").iterdir()) == ["sales (2).csv", "sales.csv"]


@pytest.mark.parametrize(
    ("name", "put"),
    [
        ("../../shop.csv", "inbox/shop.csv"),
        ("C:\\till\\sales.csv", "inbox/sales.csv"),
        (".~$a\x00b\n.csv", "inbox/a_b_.csv"),
        ("Käufe März.csv", "inbox/Käufe März.csv"),
    ],
)
def test_a_name_leads_nowhere_else(shop: Shop, name: str, put: str) -> None:
    assert inbox.drop(shop, name, b"a,b\n1,2\n") == put
    assert (shop.folder / put).is_file()


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("tool.exe", b"MZ", "aren't read"),
        ("sales.csv", b"", "is empty"),
        ("sales", b"a,b", "aren't read"),
        ("..csv", b"a,b", "aren't read"),
    ],
)
def test_what_cannot_be_read_is_not_taken(shop: Shop, name: str, content: bytes, says: str) -> None:
    with pytest.raises(UserError, match=says):
        inbox.drop(shop, name, content)
    assert list(shop.path("inbox").iterdir()) == []


def test_too_large_a_file_is_not_taken(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inbox, "DROP_BYTES", 2**20)
    with pytest.raises(UserError, match="more than 1 MB"):
        inbox.drop(shop, "sales.csv", b"x" * (2**20 + 1))


@pytest.mark.parametrize("call", ["fsync", "link"])
def test_a_full_disk_leaves_nothing_behind(shop: Shop, monkeypatch: pytest.MonkeyPatch, call: str) -> None:
    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, call, full)
    with pytest.raises(UserError, match="could not be written"):
        inbox.drop(shop, "sales.csv", b"a,b\n1,2\n")
    assert list(shop.path("inbox").iterdir()) == []


def test_what_is_made_of_a_file_is_what_a_refresh_does(shop: Shop) -> None:
    file = inbox.drop(shop, "sales.csv", SALES.encode())
    (made,) = proposal.propose(shop, shop.folder / file)
    assert (made.how, made.mapping.record, made.rows, made.preview.loaded) == ("canonical", "sales", 2, 1)
    assert [row for row, _ in made.preview.faults] == [3]
    assert "sixty" in made.preview.faults[0][1]
    refreshed(shop.folder)
    with open_newest(shop.folder) as con:
        assert con.execute("select loaded, set_aside from intake.file").fetchall() == [(1, 1)]


def test_a_mapping_is_settled_and_used(shop: Shop) -> None:
    file = inbox.drop(shop, "book.csv", ODD.encode())
    (made,) = proposal.propose(shop, shop.folder / file, "sales")
    assert {guess.header for guess in made.columns} == {"When", "Who", "What", "Got"}
    columns = {"date": "When", "channel": "Who", "product": "What", "price": "Got"}
    assert tried(shop, file, "sales", columns).preview.loaded == 2
    path = settle(shop, file, "sales", columns)
    assert path == "mappings/book.toml"
    known = mapping.read(shop.folder / path)
    assert (known.files, known.record, known.columns) == ("book.csv", "sales", columns)
    (made,) = proposal.propose(shop, shop.folder / file)
    assert (made.how, made.preview.loaded) == ("mapping file", 2)
    # settled anew, what was there before is kept beside it
    before = (shop.folder / path).read_text(encoding="utf-8")
    settle(shop, file, "", {})
    assert (shop.path("mappings") / "book.toml.before").read_text(encoding="utf-8") == before
    assert not list(shop.path("mappings").glob(".*"))


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ({"date": "When", "channel": "What", "product": "What", "price": "Got"}, "one field only"),
        ({"date": "When", "product": "What"}, "needs: channel, price"),
        ({"date": "When", "channel": "E-mail", "price": "Got"}, "about a buyer"),
    ],
)
def test_a_mapping_that_cannot_be_is_not_saved(shop: Shop, columns: dict[str, str], says: str) -> None:
    file = inbox.drop(shop, "book.csv", ODD.encode())
    with pytest.raises(UserError, match=says):
        settle(shop, file, "sales", columns)
    assert list(shop.path("mappings").glob("*")) == []


def rejected(shop: Shop) -> list[dict]:
    with open_newest(shop.folder) as con:
        return con.sql("from intake.rejected order by file, row").pl().rows(named=True)


def test_a_row_is_mended_and_its_file_stays(shop: Shop) -> None:
    file = inbox.drop(shop, "sales.csv", SALES.encode())
    refreshed(shop.folder)
    (row,) = inbox.to_mend(shop, rejected(shop))
    assert (row["row"], row["price"], row["channel"]) == ("3", "sixty", "market")
    path = inbox.mend(shop, [row | {"price": "60"}])
    assert path.startswith("mends/page-")
    refreshed(shop.folder)
    with open_newest(shop.folder) as con:
        assert con.execute("select price_cents from records.sales").fetchall() == [(6000,), (6000,)]
    assert rejected(shop) == []
    assert (shop.folder / file).read_text(encoding="utf-8") == SALES


def test_a_row_that_is_still_wrong_is_not_saved(shop: Shop) -> None:
    file = inbox.drop(shop, "sales.csv", SALES.encode())
    refreshed(shop.folder)
    (row,) = inbox.to_mend(shop, rejected(shop))
    with pytest.raises(UserError, match="price “a lot”: Not an amount"):
        inbox.mend(shop, [row | {"price": "a lot"}])
    (shop.folder / file).write_text(SALES.replace("sixty", "seventy"), encoding="utf-8")
    with pytest.raises(UserError, match="changed in its file since"):
        inbox.mend(shop, [row | {"price": "60"}])
    assert list(shop.path("mends").glob("*")) == []


def test_what_all_rows_have_is_settled_and_stays(shop: Shop) -> None:
    file = inbox.drop(shop, "book.csv", ODD.encode())
    columns = {"date": "When", "product": "What", "price": "Got"}
    assert tried(shop, file, "sales", columns).missing == ("channel",)
    full = tried(shop, file, "sales", columns, {"channel": "market"})
    assert (full.missing, full.preview.loaded) == ((), 2)
    path = shop.folder / settle(shop, file, "sales", columns, {"channel": "market"})
    path.write_text(
        path.read_text(encoding="utf-8").replace("[columns]", "tax_included = true\n\n[columns]"), encoding="utf-8"
    )
    (made,) = proposal.propose(shop, shop.folder / file)
    assert made.mapping.constants == {"channel": "market"}
    settle(shop, file, "sales", columns, {"channel": "fair"})
    known = mapping.read(path)
    assert (known.constants, known.tax_included) == ({"channel": "fair"}, True)


def test_a_later_copy_takes_the_place_of_the_earlier(shop: Shop) -> None:
    first = inbox.drop(shop, "book.csv", ODD.encode())
    settle(shop, first, "sales", {"date": "When", "channel": "Who", "product": "What", "price": "Got"})
    later = inbox.drop(shop, "book.csv", (ODD + "2026-03-04,Cy,bowl,50\n").encode())
    assert (later, inbox.earlier(shop, later), inbox.earlier(shop, first)) == ("inbox/book (2).csv", first, "")
    assert inbox.replace_earlier(shop, later) == first
    (made,) = proposal.propose(shop, shop.folder / first)
    assert (made.how, made.preview.loaded) == ("mapping file", 3)
    refreshed(shop.folder)
    with open_newest(shop.folder) as con:
        assert con.execute("select file, loaded from intake.file").fetchall() == [(first, 3)]
    with pytest.raises(UserError, match="no earlier file"):
        inbox.replace_earlier(shop, first)


def test_a_preview_says_sums_lost_tags_and_unknown_words(shop: Shop) -> None:
    own = shop.folder / "shop.toml"
    own.write_text(own.read_text(encoding="utf-8") + '\n[[channels]]\nname = "market"\n', encoding="utf-8")
    shop = load(shop.folder)
    pieces = "piece,product,started\nP-0391,tray,2026-03-01\n"
    inbox.drop(shop, "pieces.csv", pieces.encode())
    refreshed(shop.folder)
    sales = "date,channel,piece,quantity,price\n2026-03-02,fare,p0391,1,60\n2026-03-02,market,P-0391,2,62\n"
    file = inbox.drop(shop, "sales.csv", (sales + "Total,,,3,122\n").encode())
    (made,) = proposal.propose(shop, shop.folder / file)
    total, tag, word = made.preview.notes
    assert total.startswith("Price: the rows add up to 184.00, 1 of them more than one at the price of each;")
    assert total.endswith("the file's total row says 3 · 122.")
    assert tag.startswith("1 tag leads to no piece on record: P0391 in row 2. Is P-0391 meant?")
    assert word.startswith("Not known as channel: “fare” (1 row). The shop's own: market.")
