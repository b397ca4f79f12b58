"""A question about a word says where it stands: column, row and cells, but no note; and asks in a maker's words."""

from pathlib import Path

import pytest

from pipeline.asking.of_rows import ASKED
from pipeline.cleaning.taught_words import VOCABULARIES
from tests.asking.test_many_words import asked


def test_each_vocabulary_has_words_of_its_own_to_be_asked_by() -> None:
    assert ASKED.keys() == set(VOCABULARIES)
    assert all(words.count("{}") == 1 and words.endswith("?") for words in ASKED.values())


CASES = [
    (
        "payments",
        "date,kind,amount,note\n2026-02-01,tax,5.00,\n2026-02-03,zok,10.00,from Mrs Zubber\n2026-02-04,zok,12.00,\n",
        "What kind of payment is “zok”?",
        "column “kind”, row 3: 2026-02-03, zok, 10.00",
    ),
    (
        "purchases",
        "date,item,category,quantity,amount\n2026-02-03,tung oil,finish,2 zub,5.00\n2026-02-03,tung oil,finish,1 l,9\n",
        "How much is one “zub”?",
        "column “quantity”, row 2: 2026-02-03, tung oil, finish, 2 zub, 5.00",
    ),
]


@pytest.mark.parametrize(("record", "text", "ask", "stands"), CASES, ids=[case[0] for case in CASES])
def test_a_word_is_asked_about_with_where_it_stands(
    tmp_path: Path, record: str, text: str, ask: str, stands: str
) -> None:
    (found,) = asked(tmp_path, record, text)
    assert (found.question.ask, found.stands) == (ask, stands)


def test_a_long_row_is_cut_short(tmp_path: Path) -> None:
    item = "tung oil " * 30
    head = "date,item,category,receipt,lot,amount,expires,quantity"
    text = f"{head}\n2026-02-03,{item},finish,R-1,L-1,5.00,2027-02-03,2 zub\n"
    (found,) = asked(tmp_path, "purchases", text)
    assert found.stands == f"column “quantity”, row 2: 2026-02-03, {item[:39]}…, finish, R-1, L-1, 2 zub"
