import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pollutions import clean_table, text_of

from pipeline.readers.grid import careful_grid, fast_grid
from pipeline.readers.lenient_csv import Marks


def same(data: bytes, marks: Marks) -> bool:
    """Both ways read the same cells, widths and line numbers."""
    fast, careful = fast_grid(data, marks), careful_grid(data, marks)
    assert fast is not None
    return fast.frame.equals(careful.frame) and np.array_equal(fast.widths, careful.widths)


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "||", ", "])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_fast_way_reads_what_the_careful_way_reads(delimiter, end):
    table = [[cell.replace("\n", end) for cell in row] for row in clean_table()]
    text = text_of(table, end, delimiter=delimiter)
    assert same(text.encode(), Marks(delimiter))
    assert same((text + end + end).encode(), Marks(delimiter))
    assert same(("title" + end + text)[: -len(end)].encode(), Marks(delimiter))


def test_quotes_in_the_midst_of_a_cell():
    assert same(b'a,b\n1,a 5" clamp\n2,"x, y"\n3,12"x4" board\n', Marks(","))


@pytest.mark.parametrize("text", ['a,b\n1,"x\n2,y\n', 'a,b\n1,5"\n2,y\n', 'a,b\n1, "x"\n', "a,b\r1,x\n2,y\r\n"])
def test_what_is_not_in_order_goes_the_careful_way(text):
    assert fast_grid(text.encode(), Marks(",")) is None


CELLS = st.text(alphabet="ab1,;\"'\n é", max_size=6)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=2, max_size=6), st.sampled_from([",", ";"]))
def test_any_cells_in_order(rows, delimiter):
    assert same(text_of(rows, "\n", delimiter=delimiter, always=True).encode(), Marks(delimiter))
