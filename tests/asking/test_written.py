"""What an answer writes: all of it, or nothing; of another record, nothing of the one before."""

import json
import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline import mapping
from pipeline.asking.answer import answer
from pipeline.database import newest
from pipeline.errors import UserError
from pipeline.writing import whole
from tests.asking.test_answers import FOREIGN, SHOP, asked, right, shop

OFFERED = {
    "each": "Date,Channel,Product,Qty,Amount,Zwickel\n2026-02-23,online,coaster,4,60.00,1.25\n"
    "2026-02-24,online,coaster,2,30.00,2.50\n",
    "taxed": "Date,Receipt,Item,Quantity,Unit,Price_incl_tax\n2026-01-03,R-1,tung oil,2,l,119.00\n"
    "2026-01-04,R-2,tung oil,3,l,238.00\n",
}


@pytest.mark.parametrize("kind", OFFERED)
def test_every_answer_that_is_offered_after_another_is_taken(tmp_path: Path, kind: str) -> None:
    """A table of which something was told may still be another record, or none."""
    mine = shop(tmp_path / "mine", {"till.csv": OFFERED[kind].replace("Channel", "Xanal")})
    first = next(each for each in asked(mine) if each["kind"] == "each") if kind == "each" else asked(mine)[0]
    answer(mine, first["question"], 1)
    for question in asked(mine):
        for choice in question["choices"]:
            folder = tmp_path / f"{question['question']}-{choice['choice']}"
            shutil.copytree(mine, folder)
            answer(folder, question["question"], choice["choice"])
            for how in mapping.load(folder / "mappings"):
                assert how.record or not (how.columns or how.constants or how.helpers or how.price_for)


def test_another_record_takes_nothing_along_of_the_one_before(tmp_path: Path) -> None:
    head = "Tag,Wo,Was,Stück,Betrag\n"
    mine = shop(tmp_path / "mine", {"till.csv": head + "2026-02-23,xx,coaster,4,60.00\n2026-02-24,yy,tray,2,30.00\n"})
    (mine / "mappings").mkdir()
    told = (
        'files = "till.csv"  # mine\nsheets = "*"\nrecord = "sales"\nrest = "ask"\nyear = 2026\nprice_for = "row"\n'
        'tax_included = true\nleft_out = ["Wo"]\n[columns]\nprice = "Betrag"\n[units]\nquantity = "each"\n'
    )
    (mine / "mappings" / "till.toml").write_text(told, encoding="utf-8")
    question = next(each for each in asked(mine) if each["kind"] == "needed" and "channel" in each["ask"])
    choice = next(each["choice"] for each in question["choices"] if each["label"].startswith("none of these"))
    answer(mine, question["question"], choice)
    (how,) = mapping.load(mine / "mappings")
    assert (how.record, how.columns, how.price_for, how.tax_included, how.year) == ("", {}, "", False, 2026)
    assert "# mine" in (mine / "mappings" / "till.toml").read_text(encoding="utf-8")
    assert asked(mine) == []


def test_settings_that_can_t_be_read_never_come_into_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mine = shop(tmp_path / "mine", {"looks.csv": FOREIGN["looks.csv"]})
    asked(mine)
    with duckdb.connect(str(newest(mine))) as con:
        con.execute(
            """update intake.question_choice set writes = '{"shop": [["", "sizes_in", "ell"]], "mappings": []}'"""
        )
    held: list[Path] = []
    whole_write = whole.write
    monkeypatch.setattr(whole, "write", lambda path, *rest: (held.append(path), whole_write(path, *rest)))
    with pytest.raises(UserError, match="sizes_in"):
        answer(mine, "1", 1)
    assert held == [] and (mine / "shop.toml").read_text(encoding="utf-8") == SHOP


def test_an_answer_of_which_one_file_is_refused_writes_none(tmp_path: Path) -> None:
    head = "Date,Channel,Product,Price,Zwickel\n"
    text = head + "2026-02-2{0},online,coaster,60.00,1.25\n2026-02-2{0},online,tray,30.00,2.50\n"
    mine = shop(tmp_path / "mine", {f"{name}.csv": text.format(at) for at, name in enumerate("ab")})
    (found,) = asked(mine)
    with duckdb.connect(str(newest(mine))) as con:
        writes = con.execute("select writes from intake.question_choice where choice = 1").fetchall()[0][0]
        says = json.loads(writes)
        says["mappings"][1]["says"] = {"record": "sales", "columns": {"nothing": "Zwickel"}}
        con.execute("update intake.question_choice set writes = ?", [json.dumps(says)])
    with pytest.raises(UserError, match="nothing"):
        answer(mine, found["question"], 1)
    assert not list(mine.glob("mappings/*"))


def test_two_files_of_like_names_get_a_mapping_each(tmp_path: Path) -> None:
    rows = "2026-02-2{0},online,coaster,60.00,1.25\n2026-02-2{0},online,tray,30.00,2.50\n"
    text = f"Date,Channel,Product,Price,Zwickel\n{rows}"
    mine = shop(tmp_path / "mine", {"a b.csv": text.format(0), "a-b.csv": text.format(1)})
    (found,) = asked(mine)
    answer(mine, found["question"], right(found["ask"], [c["label"] for c in found["choices"]]))
    assert len(mapping.load(mine / "mappings")) == 2
    assert asked(mine) == []
