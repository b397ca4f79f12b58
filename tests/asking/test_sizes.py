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
LINES = ("1,kit", "2,each", "3,kit", ",,", ",kit")
"""What a first purchase may say of how much it is."""

PIECE = "piece,product,started,finished,status\nT-1,tray,2026-10-12,2026-10-14,finished\n"
POUR = (
    "pour,date,purpose,resin,part_a,part_b,unit,piece\nP-1,2026-10-12,casting,clear casting resin kit,200,100,g,T-1\n"
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


def layer(shop: Path) -> int:
    with open_newest(shop) as con:
        (cents,) = con.execute("select sum(cents)::bigint from cost.trace where to_place = 'piece'").fetchone() or (0,)
    return cents or 0


@pytest.mark.parametrize("line", LINES)
def test_a_kit_of_unknown_size_is_one_lot_and_its_size_is_answered(tmp_path: Path, line: str) -> None:
    line = line if line.count(",") == 1 else line[1:]
    shop = shop_of(
        tmp_path / "shop", f"2026-10-11,clear casting resin kit,resin,{line},119.00\n", pieces=PIECE, pours=POUR
    )
    with open_newest(shop) as con:
        assert con.execute("select count(*), sum(landed_cents)::bigint from cost.lot").fetchall() == [(1, 11900)]
    ((question, ask),) = asked(shop)
    assert ask.startswith("How much is in one “clear casting resin kit”?")
    assert layer(shop) == 0
    answer(shop, question, "3 kg")
    assert "kit_weight = 3000 # [[items]]: what is in one" in (shop / "shop.toml").read_text(encoding="utf-8")
    refreshed(shop)
    kits = int(line[0]) if line[0].isdigit() else 1
    assert layer(shop) == round(11900 / kits / 10)  # 300 g of 3 kg of mix
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
