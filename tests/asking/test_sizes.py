"""How much is in a kit is asked once an item, answered by weight or by volume, and then it costs what it costs."""

from pathlib import Path

import duckdb
import pytest

from pipeline.asking.answer import answer
from pipeline.commands import main
from pipeline.database import open_newest
from pipeline.errors import UserError
from tests.refreshed import refreshed

SHOP = '# mine\ncurrency = "USD"\nstart = 2026-10-01\n\n[[people]]\nname = "Me"\nrate = 30\n'
HEAD = "date,item,category,quantity,unit,amount\n"
KITS = {
    "clear casting resin kit": ("1,kit", 1),
    "amber set": ("2,each", 2),
    "thick pour drum": ("3,kit", 3),
    "tabletop epoxy": (",", 1),
    "slow cure pair": (",kit", 1),
}
"""Kits whose first purchase says how much it is as one may say it, and how many of them that is."""

PIECE = "piece,product,started,finished,status\nT-1,tray,2026-10-12,2026-10-14,finished\n"
PIECES = "piece,product,started,finished,status\n" + "".join(
    f"T-{n},tray,2026-10-12,2026-10-14,finished\n" for n, _ in enumerate(KITS, 1)
)
POURS = "pour,date,purpose,resin,part_a,part_b,unit,piece\n" + "".join(
    f"P-{n},2026-10-12,casting,{kit},200,100,g,T-{n}\n" for n, kit in enumerate(KITS, 1)
)


def shop_of(folder: Path, purchases: str, **more: str) -> Path:
    (folder / "inbox").mkdir(parents=True)
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    for name, text in {"purchases": HEAD + purchases, **more}.items():
        (folder / "inbox" / f"{name}.csv").write_text(text, encoding="utf-8")
    refreshed(folder)
    return folder


def asked(shop: Path) -> list[tuple[str, str]]:
    with open_newest(shop) as con:
        return con.execute("select question, ask from intake.question where kind = 'size' order by ask").fetchall()


def layers(shop: Path) -> list[tuple[str, int]]:
    """What each piece has taken, by its tag."""
    with open_newest(shop) as con:
        return con.execute(
            "select piece, sum(cents)::bigint from cost.trace where to_place = 'piece' group by all order by all"
        ).fetchall()


def test_a_kit_of_unknown_size_is_one_lot_and_its_size_is_answered(tmp_path: Path) -> None:
    bought = "".join(f"2026-10-11,{kit},resin,{line},119.00\n" for kit, (line, _) in KITS.items())
    shop = shop_of(tmp_path / "shop", bought, pieces=PIECES, pours=POURS)
    with open_newest(shop) as con:
        lots = con.execute("select item, count(*), sum(landed_cents)::bigint from cost.lot group by all").fetchall()
    assert sorted(lots) == sorted((kit, 1, 11900) for kit in KITS)
    questions = asked(shop)
    assert [ask.partition("?")[0] for _, ask in questions] == [f"How much is in one “{kit}”" for kit in sorted(KITS)]
    assert layers(shop) == [(f"T-{n}", 0) for n, _ in enumerate(KITS, 1)]
    for question, _ in questions:
        answer(shop, question, "3 kg")
    text = (shop / "shop.toml").read_text(encoding="utf-8")
    assert text.count("kit_weight = 3000 # [[items]]: what is in one") == len(KITS)
    refreshed(shop)
    # 300 g of 3 kg of mix
    kits = enumerate((kits for _, kits in KITS.values()), 1)
    assert layers(shop) == [(f"T-{n}", round(11900 / kits / 10)) for n, kits in kits]
    assert asked(shop) == []


def test_by_volume_and_in_an_entry_that_is_there(tmp_path: Path) -> None:
    shop = shop_of(tmp_path / "shop", "2026-10-11,clear casting resin kit,resin,1,kit,119.00\n")
    with (shop / "shop.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[items]]\nname = "clear casting resin kit"\ndensity = 1.2 # data sheet\n')
    refreshed(shop)
    assert main(["answer", str(shop), "1=1 gal"]) == 0
    text = (shop / "shop.toml").read_text(encoding="utf-8")
    assert text.startswith(SHOP)
    assert text.count("\n[[items]]") == 1
    assert "density = 1.2 # data sheet" in text
    assert "kit = 3785.412 #" in text
    with open_newest(shop) as con:
        assert con.execute("select quantity, unit from work.lot").fetchall() == [(4542494, "mg")]


@pytest.mark.parametrize("said", ["", "900", "a lot", "3 m", "0 g", "-2 kg", 1, 'x" [a]'])
def test_what_is_no_weight_and_no_volume_is_refused_and_nothing_written(tmp_path: Path, said: str) -> None:
    shop = shop_of(tmp_path / "shop", "2026-10-11,clear casting resin kit,resin,1,kit,119.00\n")
    with pytest.raises(UserError):
        answer(shop, asked(shop)[0][0], said)
    assert (shop / "shop.toml").read_text(encoding="utf-8") == SHOP


MANY = """2026-10-11,clear,resin,1,kit,119.00
2026-10-12,clear,resin,900,g,30.00
2026-10-11,deep,resin,2,l,80.00
2026-10-11,oil,finish,1,each,18.00
2026-10-12,oil,finish,500,ml,18.00
2026-10-13,oil,finish,500,ml,18.00
2026-10-11,wax,finish,1,each,9.00
2026-10-11,pigment,colourant,1,each,7.00
2026-10-12,pigment,colourant,50,g,7.00
2026-10-12,pigment,colourant,50,g,7.00
2026-10-11,gloves,consumable,100,each,12.00
2026-10-11,glue,consumable,,,12.00
2026-10-11,screws,hardware,,,3.00
2026-10-11,odd,resin,2,m,3.00
2026-10-11,mica,colourant,1,kit,7.00
2026-10-11,slab,wood,12,bf,96.00
2026-10-14,back,resin,-1,kit,-9.00
2026-10-14,kept,finish,1,kit,9.00
"""
OTHERS = {
    "pours": "pour,date,purpose,resin,part_a,part_b,unit,piece,colourant,colourant_quantity\n"
    "P-1,2026-10-13,casting,wax,20,10,g,T-1,mica,2 g\nP-2,2026-10-13,casting,nobody bought,20,10,g,T-1,,\n",
    "pieces": PIECE,
    "usage": "date,item,quantity,unit,pieces\n2026-10-13,glue,20,ml,T-1\n2026-10-13,glue,2,each,T-1\n",
    "counts": "date,item,category,quantity,unit,worth\n2026-10-01,tint,resin,2,each,20.00\n",
}


def unmeasured(con: duckdb.DuckDBPyConnection) -> set[str]:
    """Items of which a line is of no size that the models can use, though one of them could have a size."""
    rows = con.execute("""
        select distinct lot.item from work.lot
        left join records.purchases on purchases.row_id = lot.lot_id
        left join records.counts on counts.row_id = lot.lot_id
        where lot.flow like 'unmeasured/%'
            and coalesce(purchases.quantity_unit, counts.quantity_unit, 'each') in ('each', 'kit')
    """).fetchall()
    return {item for (item,) in rows}


def test_just_the_items_are_asked_about_whose_lots_no_use_can_draw_on(tmp_path: Path) -> None:
    shop = shop_of(tmp_path / "shop", MANY, **OTHERS)
    with (shop / "shop.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[items]]\nname = "kept"\nbase_unit = "ul"\n')
    refreshed(shop)
    with open_newest(shop) as con:
        expected = unmeasured(con)
    items = {ask.partition("“")[2].partition("”")[0] for _, ask in asked(shop)}
    assert items == expected
    assert {"clear", "oil", "wax", "pigment", "tint", "kept"} <= items
    assert not {"gloves", "screws", "slab", "deep", "odd"} & items


def test_a_name_that_says_how_much_is_in_one_is_taken_at_its_word_and_listed(tmp_path: Path) -> None:
    bought = (
        "2026-10-11,deep pour 12 kg kit,resin,2,each,240.00\n2026-10-11,flood 1 l and 500 ml,resin,1,kit,60.00\n"
        "2026-10-11,tung oil 4 L,finish,1,,90.00\n"
    )
    pours = POURS.splitlines()[0] + "\nP-1,2026-10-12,casting,deep pour 12 kg kit,200,100,g,T-1\n"
    shop = shop_of(tmp_path / "shop", bought, pieces=PIECE, pours=pours)
    assert [ask.split("“")[1].split("”")[0] for _, ask in asked(shop)] == ["flood 1 l and 500 ml"]
    with open_newest(shop) as con:
        paid = con.execute(
            "select sum(cents)::bigint from cost.trace where to_place = 'piece' and layer = 'resin'"
        ).fetchone()
        assert paid == (300,)  # 300 g of 12 kg that cost 120.00
        listed = con.execute(
            "select word, taken from intake.likely_word where vocabulary = 'size' order by word"
        ).fetchall()
    assert listed == [("deep pour 12 kg kit", "12 kg in one"), ("tung oil 4 l", "4 l in one")]
