"""A stranger's pile gets in by answers alone: a program that sees each question and its choices settles it."""

from pathlib import Path
from typing import Any

import pytest

from pipeline.asking.answer import answer
from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.refresh.refresh import refresh
from pipeline.reports.questions import questions
from pipeline.shop import load
from tests.refreshed import begun

SHOP = """# what I wrote myself
name = "Two Rooms"   # ours
currency = "EUR"
start = 2026-01-01

[[people]]
name = "Ada"
rate = 30

# where I sell
[[channels]]
name = "market"

[[channels]]
name = "online"
"""

FOREIGN = {
    "Verkauf.csv": "Verkauft am;Kanal;Stück-Nr;Artikel;Preis;Zwickel\n"
    "21.02.2026;market;W-1;tray;240,00;12,50\n22.02.2026;market;W-2;clock;180,00;9,00\n",
    "web.csv": "Date,Channel,Product,Qty,Amount\n"
    "2026-02-23,online,coaster,4,60.00\n2026-02-24,online,coaster,2,30.00\n",
    "Stunden.csv": "Tag;Person;Tätigkeit;Stück;Stunden\n"
    "14.02.2026;Ada;schleifen;W-1;2,5\n15.02.2026;Ada;zibbeln;W-2;1,75\n",
    "pieces.csv": "piece,product,species,length,width,thickness,finished\n"
    "W-1,tray,ash,450,300,30,2026-02-20\nW-2,clock,walnut,300,300,25,2026-02-20\n",
    "looks.csv": "Date,Piece,Found,Decision\n2026-02-19,W-1,scratch,do again\n2026-02-20,W-1,none,accept\n",
    "bought.csv": "Date,Receipt,Item,Category,Quantity,Unit,Amount\n"
    "2026-01-03,R-1,walnut slab,wood,40,l,236.00\n2026-02-04,R-2,discs,abrasive,50,each,25.00\n",
    "weather.csv": "station,sunshine,gusts\na,7,3\nb,5,4\n",
}

TRUE = {
    "sales.csv": "date,channel,piece,product,quantity,price,channel_fee\n"
    "2026-02-21,market,W-1,tray,1,240,12.50\n2026-02-22,market,W-2,clock,1,180,9\n"
    "2026-02-23,online,,coaster,4,15,\n2026-02-24,online,,coaster,2,15,\n",
    "hours.csv": "date,person,operation,pieces,hours\n"
    "2026-02-14,Ada,sanding,W-1,2.5\n2026-02-15,Ada,carving,W-2,1.75\n",
    "pieces.csv": "piece,product,species,length,width,thickness,finished\n"
    "W-1,tray,European ash,450 mm,300 mm,30 mm,2026-02-20\nW-2,clock,black walnut,300 mm,300 mm,25 mm,2026-02-20\n",
    "inspections.csv": "date,piece,defect,action\n2026-02-19,W-1,scratch,rework\n2026-02-20,W-1,none,accept\n",
    "purchases.csv": "date,receipt,item,category,quantity,unit,amount\n"
    "2026-01-03,R-1,walnut slab,wood,40,l,236\n2026-02-04,R-2,discs,abrasive,50,each,25\n",
}

KNOWN = (
    ("“Zwickel”", "the channel fee"),
    ("for each, or for the whole row", "for the whole row"),
    ("“zibbeln”", "carving"),
    ("sizes that stand without", "mm"),
    ("“ash”", "European ash"),
    ("“walnut”", "black walnut"),
    ("“do again”", "rework"),
    ("weather.csv", "none of these"),
)
"""What the maker knows: words of a question, and how the right answer begins."""

MONTHS = "select * exclude (cash_end_cents) from money.month order by month"


def shop(folder: Path, files: dict[str, str], settings: str = SHOP) -> Path:
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    for name, text in files.items():
        (folder / "inbox" / name).write_text(text, encoding="utf-8")
    return folder


def asked(folder: Path) -> list[dict[str, Any]]:
    refresh(load(begun(folder)))
    with open_newest(folder) as con:
        return questions(con)


def months(folder: Path) -> list[tuple[Any, ...]]:
    with open_newest(folder) as con:
        return con.execute(MONTHS).fetchall()


def right(ask: str, labels: list[str]) -> int:
    """The number of the right answer, from the words of the question and its choices alone."""
    begins = next(begins for words, begins in KNOWN if words in ask)
    return 1 + next(at for at, label in enumerate(labels) if label.startswith(begins))


@pytest.mark.slow
def test_a_strangers_pile_is_true_to_the_cent_after_the_last_answer(tmp_path: Path) -> None:
    true = shop(tmp_path / "true", TRUE)
    refresh(load(begun(true)))
    mine = shop(tmp_path / "mine", FOREIGN)
    before = {path: path.read_bytes() for path in (mine / "inbox").iterdir()}
    told = []
    while open_ := asked(mine):
        first = open_[0]
        assert [each["worth_cents"] for each in open_] == sorted((e["worth_cents"] for e in open_), reverse=True)
        answer(mine, "1", right(first["ask"], [choice["label"] for choice in first["choices"]]))
        told.append(first["ask"])
        assert len(told) <= len(KNOWN), told
    assert months(mine) == months(true)
    assert {path: path.read_bytes() for path in (mine / "inbox").iterdir()} == before
    with open_newest(mine) as con:
        assert con.execute("from intake.rejected").fetchall() == []
        assert con.execute("select distinct species from records.pieces order by all").fetchall() == [
            ("European ash",), ("black walnut",)
        ]  # fmt: skip


def test_an_answer_is_one_line_with_what_it_does_and_all_else_stays(tmp_path: Path) -> None:
    mine = shop(tmp_path / "mine", {"looks.csv": FOREIGN["looks.csv"]})
    (found,) = asked(mine)
    told = answer(mine, found["question"], right(found["ask"], [c["label"] for c in found["choices"]]))
    assert [path.name for path in told.paths] == ["shop.toml"]
    lines = (mine / "shop.toml").read_text(encoding="utf-8").splitlines()
    mine_before = [line for line in SHOP.splitlines() if line]
    assert [line for line in lines if line in mine_before] == mine_before
    (line,) = [line for line in lines if "do again" in line]
    assert line.startswith('"do again" = "rework" # ') and "means rework" in line
    assert load(mine).words == {"action": {"do again": "rework"}}
    assert asked(mine) == []


def test_the_answers_about_one_table_come_together_in_its_mapping(tmp_path: Path) -> None:
    head, first = "Date,Channel,Product,Qty,Amount,Zwickel\n", "2026-02-23,online,coaster,4,60.00,1.25\n"
    mine = shop(tmp_path / "mine", {"till.csv": f"{head}{first}2026-02-24,online,coaster,2,30.00,2.50\n"})
    for _ in range(2):
        open_ = asked(mine)
        answer(mine, "1", right(open_[0]["ask"], [c["label"] for c in open_[0]["choices"]]))
    assert asked(mine) == []
    (path,) = (mine / "mappings").glob("*.toml")
    text = path.read_text(encoding="utf-8")
    assert 'price_for = "row"' in text and 'channel_fee = "Zwickel"' in text and text.startswith("# What was answered")
    with open_newest(mine) as con:
        assert con.execute("select price_cents, channel_fee_cents from records.sales order by all").fetchall() == [
            (1500, 125), (1500, 250)
        ]  # fmt: skip


def test_a_maker_s_own_mapping_keeps_its_comments(tmp_path: Path) -> None:
    rows = "2026-02-23,online,coaster,60,-2\n2026-02-24,online,tray,30,3\n"
    mine = shop(tmp_path / "mine", {"till.csv": f"Day,Ch,What,Paid,Fee\n{rows}"})
    own = (
        '# my till\nfiles = "till.csv"   # all of it\nrecord = "sales"\n[columns]\ndate = "Day"\nchannel = "Ch"\n'
        'product = "What"\nprice = "Paid"\nchannel_fee = "Fee"\n'
    )
    (mine / "mappings").mkdir()
    (mine / "mappings" / "till.toml").write_text(own, encoding="utf-8")
    (found,) = asked(mine)
    assert found["kind"] == "sign-cost" and found["holds"] == "money"
    assert "of sales mean?" in found["ask"]
    answer(mine, "1", 2)
    text = (mine / "mappings" / "till.toml").read_text(encoding="utf-8")
    assert text.startswith(own.rstrip("\n")) and '[signs]\nchannel_fee = "credit"' in text
    assert asked(mine) == []


def test_one_question_of_several_files_is_asked_once_and_settles_them_all(tmp_path: Path) -> None:
    head = "Date,Channel,Product,Price,Zwickel\n"
    text = head + "2026-02-2{0},online,coaster,60.00,1.25\n2026-02-2{0},online,tray,30.00,2.50\n"
    mine = shop(tmp_path / "mine", {f"{name}.csv": text.format(day) for day, name in enumerate(("a", "b", "c"))})
    (found,) = asked(mine)
    assert (found["files"], found["rows"], found["worth_cents"]) == (3, 6, 27000)
    answer(mine, "1", right(found["ask"], [c["label"] for c in found["choices"]]))
    assert asked(mine) == []
    with open_newest(mine) as con:
        assert con.execute("select sum(channel_fee_cents)::bigint from records.sales").fetchone() == (3 * 375,)


@pytest.mark.parametrize(("question", "choice", "says"), [("7", 1, "no question 7"), ("1", 40, "no choice 40")])
def test_a_wrong_answer_writes_nothing(tmp_path: Path, question: str, choice: int, says: str) -> None:
    mine = shop(tmp_path / "mine", {"looks.csv": FOREIGN["looks.csv"]})
    asked(mine)
    with pytest.raises(UserError, match=says):
        answer(mine, question, choice)
    assert (mine / "shop.toml").read_text(encoding="utf-8") == SHOP


@pytest.mark.parametrize(
    "settings",
    [
        SHOP.replace("\n", "\r\n"),
        "\ufeff" + SHOP,
        SHOP + '[words]\naction = {"x" = "scrap"}\n',
        SHOP + "\n[words.action]\n# of mine\nx = 'scrap' # kept",
        'words = {action = {"x" = "scrap"}}\n' + SHOP,
        'words.action.x = "scrap"\n' + SHOP,
    ],
)
def test_any_way_of_writing_settings_takes_an_answer(tmp_path: Path, settings: str) -> None:
    mine = shop(tmp_path / "mine", {"looks.csv": FOREIGN["looks.csv"]})
    (mine / "shop.toml").write_bytes(settings.encode())
    (found,) = asked(mine)
    answer(mine, "1", right(found["ask"], [c["label"] for c in found["choices"]]))
    assert load(mine).words["action"]["do again"] == "rework"
    assert load(mine).words["action"] == {"do again": "rework"} | ({"x": "scrap"} if "scrap" in settings else {})
    after = (mine / "shop.toml").read_bytes().decode()
    assert all(line in after for line in ("# what I wrote myself", '"Two Rooms"   # ours', "# where I sell"))


# words that are as one but for their signs are asked about together
@pytest.mark.parametrize("words", [('do "again"', "a#b", "=", "[x]", "名"), ("do\\again", "'"), ("do\u2028again",)])
def test_any_word_can_be_answered(tmp_path: Path, words: tuple[str, ...]) -> None:
    quoted = ['"' + word.replace('"', '""') + '"' for word in words]
    rows = "".join(f"2026-02-19,W-{nth},scratch,{word}\n" for nth, word in enumerate(quoted))
    mine = shop(tmp_path / "mine", {"looks.csv": f"date,piece,defect,action\n{rows}"})
    found = [question for question in asked(mine) if question["kind"] == "word"]
    assert len(found) == len(words)
    for each in found:
        choice = next(c["choice"] for c in each["choices"] if c["label"] == "rework")
        answer(mine, each["question"], choice)
    assert list(load(mine).words["action"].values()) == ["rework"] * len(words)
    refresh(load(begun(mine)))
    with open_newest(mine) as con:
        assert con.execute("select action, count(*) from records.inspections group by all").fetchall() == [
            ("rework", len(words)),
        ]  # fmt: skip


LOGGED = "select piece, logged_share, assumed_share from cost.piece order by piece"


def test_rows_of_a_file_with_an_open_column_of_money_are_not_called_logged(tmp_path: Path) -> None:
    files = {
        "pieces.csv": "piece,product,finished\nW-1,tray,2026-02-20\nW-2,clock,2026-02-20\n",
        "hours.csv": "date,person,operation,pieces,hours\n2026-02-14,Ada,carving,W-1,2\n2026-02-14,Ada,carving,W-2,2\n",
        "bought.csv": "Date,Receipt,Item,Category,Quantity,Unit,Amount,Zwickel\n"
        "2026-01-03,R-1,hinge,hardware,10,each,100.00,5.00\n2026-01-04,R-2,hinge,hardware,10,each,100.00,5.50\n",
        "usage.csv": "date,item,quantity,unit,pieces\n2026-02-15,hinge,6,each,W-1\n",
    }
    mine = shop(tmp_path / "mine", files)
    (found,) = asked(mine)
    assert (found["kind"], found["holds"], found["worth_cents"]) == ("column", "money", 20000)
    with open_newest(mine) as con:
        assert con.execute(LOGGED).fetchall() == [("W-1", 0.5, 0.5), ("W-2", 1.0, 0.0)]  # 60 of hinges, 60 of hours
        flags = con.execute("select assumed, sum(cents)::bigint from cost.trace where layer = 'hardware' group by all")
        assert dict(flags.fetchall()) == {True: 20000 + 6000}
    freight = next(c["choice"] for c in found["choices"] if c["label"].startswith("the freight"))
    answer(mine, "1", freight)
    assert asked(mine) == []
    with open_newest(mine) as con:
        assert [share for _, share, _ in con.execute(LOGGED).fetchall()] == [1.0, 1.0]


@pytest.mark.parametrize("known", ["", '\n[[items]]\nname = "Zwickelkraut"\nshelf_months = 6   # of mine\n'])
def test_what_an_item_is_used_for_is_asked_once_and_stands_with_the_item(tmp_path: Path, known: str) -> None:
    bought = (
        "date,receipt,item,category,quantity,unit,amount\n2026-01-03,R-1,Zwickelkraut,,5,kg,100\n"
        "2026-01-04,R-2,zwickelkraut,,5,kg,50\n2026-01-05,R-3,hinge,hardware,5,each,10\n"
    )
    mine = shop(tmp_path / "mine", {"purchases.csv": bought}, SHOP + known)
    found = next(each for each in asked(mine) if each["kind"] == "category")
    assert (found["ask"], found["rows"], found["worth_cents"]) == ("What is “Zwickelkraut” used for?", 2, 15000)
    choice = next(each["choice"] for each in found["choices"] if each["label"] == "finish")
    answer(mine, found["question"], choice)
    assert [each for each in asked(mine) if each["kind"] == "category"] == []
    (item,) = load(mine).tables["item"]
    assert item["category"] == "finish" and (item["shelf_months"] == 6) == bool(known)
    assert "# of mine" in (mine / "shop.toml").read_text(encoding="utf-8") or not known
    with open_newest(mine) as con:
        assert con.execute("select count(*) from records.purchases where category = 'finish'").fetchone() == (2,)


NORD = (
    "date,receipt,supplier,item,category,amount\n2026-03-02,R2,Nord,knorpel,finish,1\n"
    "2026-03-03,R3,Nord,zopf,finish,1\n2026-03-04,R4,Nord,kamm,finish,1\n"
)


def test_what_another_file_tells_of_an_item_is_not_asked(tmp_path: Path) -> None:
    told = "date,receipt,item,category,amount\n2026-01-03,R-1,Zwickelkraut,hardware,100\n"
    bare = "date,receipt,item,category,amount\n2026-01-04,R-2,zwickelkraut,,50\n"
    mine = shop(tmp_path / "mine", {"purchases p.csv": told, "purchases q.csv": bare})
    assert asked(mine) == []
    with open_newest(mine) as con:
        assert con.execute("select item, category from records.purchases order by on_date").fetchall() == [
            ("zwickelkraut", "hardware"), ("zwickelkraut", "hardware"),
        ]  # fmt: skip


def test_a_category_that_only_the_supplier_tells_is_asked_while_its_rows_count(tmp_path: Path) -> None:
    bare = "date,receipt,supplier,item,category,amount\n2026-03-12,R12,Nord,Stift,,7\n2026-03-13,R13,Ost,Krabbe,,9\n"
    mine = shop(tmp_path / "mine", {"purchases p.csv": NORD, "purchases q.csv": bare})
    aside, likely = asked(mine)
    assert (aside["ask"], aside["holds"], aside["rows"], aside["worth_cents"]) == (
        "What is “Krabbe” used for?", "file", 1, 900
    )  # fmt: skip
    says = "What is “Stift” used for? It is taken for finish, as all else from Nord."
    assert (likely["ask"], likely["holds"], likely["worth_cents"]) == (says, "", 700)
    assert likely["choices"][0]["label"] == "finish"
    tool = next(each["choice"] for each in likely["choices"] if each["label"] == "tool")
    answer(mine, likely["question"], tool)
    assert [each["ask"] for each in asked(mine)] == ["What is “Krabbe” used for?"]
    with open_newest(mine) as con:
        assert con.execute("select item, category from records.purchases where on_date > '2026-03-10'").fetchall() == [
            ("Stift", "tool")
        ]


def test_postage_alone_is_bought_once_its_use_is_told(tmp_path: Path) -> None:
    bought = "date,receipt,item,category,amount\n2026-03-02,R1,oak,wood,10\n2026-03-02,R1,Freight,,2\n"
    mine = shop(tmp_path / "mine", {"purchases.csv": f"{bought}2026-03-03,R2,Freight,,5\n2026-03-04,R3,Discount,,1\n"})
    (found,) = asked(mine)
    assert (found["ask"], found["rows"], found["worth_cents"]) == ("What is “Freight” used for?", 1, 500)
    selling = next(each["choice"] for each in found["choices"] if each["label"] == "selling")
    answer(mine, found["question"], selling)
    assert asked(mine) == []
    with open_newest(mine) as con:
        bought = con.execute("select receipt, category, amount_cents, freight_cents from records.purchases order by 1")
        assert bought.fetchall() == [("R1", "wood", 1000, 200), ("R2", "selling", 500, None)]


@pytest.mark.parametrize(("begins", "cents"), [("for each", 2000), ("for the whole row", 1000)])
def test_a_count_in_a_text_is_for_each_or_for_all_by_one_answer(tmp_path: Path, begins: str, cents: int) -> None:
    sold = "date,channel,product,price\n2026-03-02,market,2x tray,20\n2026-03-02,market,bowl,9\n"
    mine = shop(tmp_path / "mine", {"sales.csv": sold})
    (found,) = asked(mine)
    assert found["ask"] == "inbox/sales.csv: Is “price” for each, or for the whole row?"
    choice = next(each["choice"] for each in found["choices"] if each["label"] == begins)
    answer(mine, found["question"], choice)
    assert asked(mine) == []
    with open_newest(mine) as con:
        assert con.execute("select quantity, price_cents from records.sales order by price_cents desc").fetchall() == [
            (2, cents), (1, 900),
        ]  # fmt: skip
