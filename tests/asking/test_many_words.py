"""Tables of very many words: a question stands for all cells that it settles, and is there however many others wait."""

from pathlib import Path

from pipeline import shop as shops
from pipeline.asking.of_rows import MOST, of_rows
from pipeline.asking.question_at import QuestionAt
from pipeline.cleaning import clean
from pipeline.proposing import suggestion
from pipeline.readers.csv import tables_in


def asked(folder: Path, record: str, text: str, settings: str = "") -> list[QuestionAt]:
    (folder / "shop.toml").write_text(f'start = 2026-01-01\ncurrency = "EUR"\n{settings}', encoding="utf-8")
    shop = shops.load(folder)
    (table,) = tables_in(text.encode())
    how = suggestion.choose([], f"{record}.csv", table, shop)
    assert how and how.record == record
    return of_rows(table, clean(table, how, shop, f"{record}.csv"), shop, f"{record}.csv")


def test_bare_sizes_are_one_question_however_many_there_are(tmp_path: Path) -> None:
    rows = "".join(f"P-{at},tray,{at}.5\n" for at in range(100, 400))
    (found,) = asked(tmp_path, "pieces", f"piece,product,length\n{rows}")
    assert (found.question.kind, found.rows) == ("sizes", 300)


def test_a_unit_is_one_question_whatever_its_numbers_are(tmp_path: Path) -> None:
    rows = "".join(f"2026-02-03,tung oil,finish,{at} zub,5.00\n" for at in range(1, 200))
    (found,) = asked(tmp_path, "purchases", f"date,item,category,quantity,amount\n{rows}")
    assert (found.question.about, found.rows) == ("unit|zub", 199)


def test_of_words_set_aside_those_of_most_rows_are_asked(tmp_path: Path) -> None:
    words = [*(f"zok{at}" for at in range(MOST + 20)), "zokker", "zokker"]
    rows = "".join(f"2026-02-03,{word},10.00\n" for word in words)
    found = asked(tmp_path, "payments", f"date,kind,amount\n{rows}")
    kinds = [each for each in found if each.question.kind == "word"]
    assert len(kinds) == MOST and "kind|zokker" in {each.question.about for each in kinds}


def test_a_machine_is_asked_about_behind_many_words_that_are_not(tmp_path: Path) -> None:
    """Names of items are asked about elsewhere, and come in a hundred; the machine shapes what an hour costs."""
    rows = "".join(f"2026-02-0{1 + at % 2},q{at // 2}wx,hardware,,10.00\n" for at in range(2 * MOST + 20))
    rows += "2026-02-03,tung oil,finish,Zwickler,10.00\n"
    settings = '[[machines]]\nname = "Router"\n[[items]]\nname = "tung oil"\n'
    found = asked(tmp_path, "purchases", f"date,item,category,machine,amount\n{rows}", settings)
    assert "machine|zwickler" in {each.question.about for each in found}
