"""A piece's cost with the records behind every line."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.database import open_newest
from pipeline.errors import UserError
from pipeline.reports.trace import PieceTrace, text, trace

Published = Callable[..., Path]


def move(day: int, row: int, paid: int, cents: int, layer: str, **rest: Any) -> dict[str, Any]:
    flags = {"rework": False, "assumed": False, "estimated": False}
    place = {
        "from_place": "stock",
        "to_place": "piece",
        "piece": "T-1",
        "origin": layer,
        "operation": None,
        "item": None,
    }
    ids = {"on_date": date(2026, 3, day), "row_id": row, "paid_row_id": paid, "cents": cents, "layer": layer}
    return ids | flags | place | rest


def stands(row_id: int, file: str, row: int, sheet: str = "") -> dict[str, Any]:
    return {"row_id": row_id, "record": "any", "file": file, "sheet": sheet, "row": row, "state": "loaded"}


@pytest.fixture
def found(published: Published) -> PieceTrace:
    piece = {"piece": "T-1", "product": "wall clock", "species": "walnut", "quantity": 2, "made_cents": 5300}
    shares = {"unit_cents": 2650, "logged_share": 0.8, "assumed_share": 0.2, "estimated_share": 0.0}
    other = {"piece": "T-12", "product": "tray", "species": "ash", "quantity": 1, "made_cents": 700}
    shop = published(
        cost__piece=[piece | shares, other | shares],
        cost__piece_line=[
            {"piece": "T-1", "layer": "wood", "operation": "", "usual_cents": 2800, "usual_pieces": 5},
            {"piece": "T-1", "layer": "labour", "operation": "carving", "usual_cents": 900, "usual_pieces": 5},
            {"piece": "T-1", "layer": "finish", "operation": "", "usual_cents": 0, "usual_pieces": 5},
        ],
        cost__trace=[
            move(2, 10, 20, 3200, "wood", item="walnut slab", assumed=True),
            move(3, 11, 1, 1000, "labour", operation="sanding", from_place="labour", quantity=1440, unit="s"),
            move(
                1, 12, 1, 500, "labour", operation="sanding", from_place="labour", quantity=720, unit="s", rework=True
            ),
            # the same two records in two movements are one line to read
            move(4, 13, 21, 400, "finish"),
            move(4, 13, 21, 200, "finish"),
            move(2, 10, 20, 700, "wood", piece="T-12"),
            move(9, 14, 14, 5300, "wood", from_place="piece", to_place="sold"),
            # one of the two comes back
            move(12, 15, 15, 2650, "wood", from_place="sold"),
        ],
        intake__row=[
            stands(1, "shop.toml", 1, "people"),
            stands(10, "inbox/pieces.csv", 5),
            stands(11, "inbox/hours.xlsx", 7, "2026"),
            stands(12, "inbox/hours.xlsx", 8, "2026"),
            stands(13, "inbox/used.csv", 2),
            stands(14, "inbox/till.csv", 3),
            stands(15, "inbox/till.csv", 4),
            stands(20, "inbox/receipts.csv", 88),
            stands(21, "inbox/receipts.csv", 90),
        ],
        settings__person_rate=[{"row_id": 1, "name": "Ada", "from_date": date(2026, 1, 1), "rate_cents": 2500}],
    )
    with open_newest(shop) as con:
        return trace(con, " t-1")


def test_cost_stands_by_layer_and_operation_dearest_first(found: PieceTrace) -> None:
    assert [(line.layer, line.operation, line.cents, line.usual_cents) for line in found.cost] == [
        ("wood", None, 3200, 2800),
        ("labour", "sanding", 1500, None),
        ("finish", None, 600, None),  # usual is none of it
        ("labour", "carving", 0, 900),  # such a piece usually has it
    ]
    assert sum(line.cents for line in found.cost) == found.piece["made_cents"]
    assert [(line.layer, line.cents) for line in found.gone] == [("sold", 2650)]


def test_every_line_names_the_record_and_the_one_that_paid(found: PieceTrace) -> None:
    wood = found.cost[0].records
    assert [(r["file"], r["row"], r["paid_file"], r["paid_row"]) for r in wood] == [
        ("inbox/pieces.csv", 5, "inbox/receipts.csv", 88)
    ]
    finish = found.cost[2].records
    assert [(r["cents"], r["row"]) for r in finish] == [(600, 2)]


def test_the_text_shows_cost_flags_and_places(found: PieceTrace) -> None:
    lines = list(text(found, 2, records=True))
    assert lines[0] == "T-1 · wall clock · walnut"
    assert f"{'wood':<34}{'32.00':>14}{'usual 28.00':>20}{'':>10}   1 record" in lines
    assert lines[1] == "Cost 53.00, 26.50 each of 2 (logged 80 %, assumed 20 %, estimated 0 %)"
    assert (
        "    2026-03-02       32.00 walnut slab (assumed)  inbox/pieces.csv, row 5 · paid by inbox/receipts.csv, row 88"
        in lines
    )
    rework = "    2026-03-01        5.00 (rework)  inbox/hours.xlsx, sheet 2026, row 8"
    rework += " · paid by Ada's hourly rate in shop.toml, from 2026-01-01"
    assert lines.index(rework) < next(n for n, line in enumerate(lines) if "2026-03-03" in line)
    assert "Where it went" in lines
    assert lines[-2].endswith("53.00  inbox/till.csv, row 3")
    assert lines[-1].endswith("-26.50  inbox/till.csv, row 4")


def test_the_text_is_one_line_a_layer_and_operation_with_its_hours(found: PieceTrace) -> None:
    lines = list(text(found, 2))
    shown = lines[lines.index("") + 1 :]
    assert [line.split("  ")[0] for line in shown] == [
        "wood",
        "work, sanding",
        "finish",
        "work, carving",
        "",
        "Where it went",
        "sold, wood",
        "",
        "With --all, the records behind each line.",
    ]
    # 1,440 and 720 seconds
    assert shown[1] == f"{'work, sanding':<34}{'15.00':>14}{'':>20}{'0.60 h':>10}   2 records, 1 of rework"
    assert shown[3] == f"{'work, carving':<34}{'0.00':>14}{'usual 9.00':>20}{'':>10}   no record"


def test_the_lines_add_up_to_the_cost_and_to_what_left(demo: Path) -> None:
    with open_newest(demo) as con:
        back, lost = (
            {row[0] for row in con.execute(f"select distinct piece from cost.trace where {which}").fetchall()}
            for which in ("from_place = 'sold' and to_place = 'piece'", "from_place = 'piece' and to_place = 'pool'")
        )
        assert back
        assert lost
        cents = "sum(into_piece(from_place, to_place, layer, item, cents)) as cents"
        traced = f"select piece, {cents} from cost.trace group by piece"
        other = (
            f"select piece from cost.piece left join ({traced}) using (piece) where made_cents <> coalesce(cents, 0)"
        )
        assert con.execute(other).fetchall() == []
        for piece in sorted(back | lost):
            told = trace(con, piece)
            assert sum(line.cents for line in told.cost) == told.piece["made_cents"]
            held = "select sum(case when to_place = 'piece' then cents else -cents end)::bigint from cost.trace"
            (left,) = con.execute(f"{held} where piece = ? and 'piece' in (from_place, to_place)", [piece]).fetchall()[
                0
            ]
            assert sum(line.cents for line in told.gone) == told.piece["made_cents"] - left


BENCH = """
name = "Two at a bench"
start = 2026-01-01
[[people]]
name = "Ada"
rate = 30
[[people]]
name = "Ben"
role = "employee"
paid = true
rate = 20
"""


def test_bench_pay_is_what_an_own_hour_in_the_units_sold_brought(
    books: Callable[..., duckdb.DuckDBPyConnection],
) -> None:
    con = books(
        BENCH,
        purchases="date,item,category,quantity,unit,amount\n2026-01-02,brass foot,hardware,8,each,100.00\n",
        pieces="piece,product,quantity,started,finished\nT-1,tray,2,2026-01-03,2026-01-20\nT-2,tray,1,2026-01-03,2026-01-20\n",
        usage="date,item,quantity,unit,pieces\n2026-01-05,brass foot,8,each,T-1\n",
        hours="date,hours,person,operation,pieces\n2026-01-06,8,Ada,carving,T-1\n2026-01-07,2,Ben,sanding,T-1\n"
        "2026-01-08,0.4,Ada,carving,T-2\n",
        sales="date,channel,piece,quantity,price,shipping_charged,channel_fee,shipping_paid\n"
        "2026-02-01,online,T-1,1,400,15,40,12\n2026-02-03,online,T-2,1,9,,,\n2026-02-09,online,T-1,1,380,,,\n"
        "2026-02-20,online,T-1,-1,380,,,\n",
    )
    told = trace(con, "T-1")
    # one of two stays sold: 415 brought, 52 to sell it, half of 100 in brass and of 40 to Ben; 4 of the 8 hours
    assert told.pay == {
        "piece": "T-1",
        "product": "tray",
        "units": 1,
        "revenue_cents": 41500,
        "selling_cents": 5200,
        "other_cost_cents": 7000,
        "own_bench_seconds": 4 * 3600,
        "bench_pay_cents": (41500 - 5200 - 7000) // 4,
        # the middle one of two is the lower: 9.00 over 0.4 hours
        "usual_bench_pay_cents": 2250,
        "pieces": 2,
    }
    assert (
        "Bench pay 73.25 an hour (415.00 brought, less 52.00 selling and 70.00 all cost but own work,"
        " over 4.00 own hours, 1 of 2 sold)"
    ) in list(text(told, 2))


def test_a_piece_nobody_knows_suggests_the_nearest(published: Published) -> None:
    shop = published(cost__piece=[{"piece": "T-1"}, {"piece": "T-12"}, {"piece": "SIGN"}])
    with open_newest(shop) as con:
        with pytest.raises(
            UserError, match=r"no piece T-13.(?s:.*)Nearest tags: T-1, T-12\.|Nearest tags: T-12, T-1\."
        ):
            trace(con, "T-13")
        with pytest.raises(UserError, match="There are 3 pieces"):
            trace(con, "0000")
