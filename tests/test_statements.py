"""What counts as text from outside in a statement: the house's own test would be of no use if it saw none."""

import pytest

from tests.statements import faults

BAD = {
    "an f-string": "def f(con, name):\n    con.execute(f'select {name}')",
    "put together": "def f(con):\n    con.sql('from ' + input())",
    "by percent": "def f(con):\n    con.execute('from %s' % read())",
    "by format": "def f(con):\n    con.query('from {}'.format(read()))",
    "by join": "def f(con):\n    con.execute(', '.join(read()))",
    "a default from outside": "def f(con):\n    con.execute(TABLE.get('x', read()))",
    "a name set elsewhere": "def f(con):\n    text = 'a'\n    text = read()\n    con.execute(text)",
    "added to": "def f(con):\n    text = 'a'\n    text += read()\n    con.execute(text)",
    "put into a list": "def f(con):\n    parts = ['a']\n    parts.append(read())\n    con.execute(' '.join(parts))",
    "put into a table": "def f(con):\n    parts = {}\n    parts['a'] = read()\n    con.execute(parts['a'])",
    "in a loop": "def f(con):\n    for text in read():\n        con.execute(text)",
    "by a walrus": "def f(con):\n    if text := read():\n        con.execute(text)",
    "handed on": "def g(con, text):\n    con.execute(f'from t {text}')\ndef f(con):\n    g(con, read())",
    "handed on twice": (
        "def h(con, text):\n    con.execute(text)\ndef g(con, text):\n    h(con, text + ' x')\n"
        "def f(con):\n    g(con, text=read())"
    ),
    "by a method": "class A:\n    def g(self, text):\n        self.con.execute(text)\ndef f(a):\n    a.g(read())",
    "a column of a constant table's default": (
        "def g(con, factor, level):\n    column = {'size': 'b'}.get(factor, f'coalesce({factor})')\n"
        "    con.execute(f'where {column} = 1', level)\ndef f(con, told):\n    g(con, *told)"
    ),
    "by a function without a name": (
        "class A:\n    def g(self, text):\n        self.con.execute(text)\nf = lambda a, text: a.g(text)"
    ),
    "a name handed on by a function without a name": (
        "class A:\n    def sold(self, factor):\n        self.con.execute(f'where {factor} = 1')\n"
        "KINDS = {'sold': lambda book, factor: book.sold(factor)}"
    ),
    "unpacked": "def g(con, text):\n    con.execute(text)\ndef f(con, told):\n    g(con, **told)",
    "in a function within": "def f(con, name):\n    def g():\n        con.execute(name)\n    return g",
    "a piece of a relation": "def f(con):\n    con.table('t').order(read())",
}  # fmt: skip

GOOD = {
    "bound": "def f(con, name):\n    con.execute('select $name', {'name': name})",
    "a constant table": "TABLE = {'a': 'b'}\ndef f(con, name):\n    con.execute(f'select {TABLE[name]} from t')",
    "one of two": "def f(con, up):\n    sign = '<' if up else '>'\n    con.execute(f'where a {sign} b')",
    "handed on as it stands": "def g(con, text):\n    con.execute(text)\ndef f(con):\n    g(con, 'from t')",
    "of a constant elsewhere": "from a import SHOWN\ndef f(con):\n    con.execute(f'from t limit {SHOWN}')",
    "a table of tables": (
        "TABLE = {'a': (('x', 'y'),)}\ndef f(con, name):\n"
        "    each = ' union all '.join(f'select {b} from {a}' for a, b in TABLE[name])\n    con.execute(each)"
    ),
    "another thing of that name": (
        "class A:\n    def g(self, text):\n        self.con.execute(text)\ndef f(a):\n    g(read())\n    a.g('from t')"
    ),
}


@pytest.mark.parametrize("text", BAD.values(), ids=BAD.keys())
def test_text_from_outside_is_found(text: str) -> None:
    assert list(faults([("here", text)]))


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD.keys())
def test_what_is_constant_passes(text: str) -> None:
    assert list(faults([("here", text)])) == []


def test_what_is_handed_on_is_followed_over_modules_and_packages() -> None:
    gives = ("pipeline.reports.finding", "def rows_of(con, query):\n    con.execute(query)")
    for line in ("from pipeline.reports.finding import rows_of", "from pipeline.reports import rows_of as rows_of"):
        takes = ("pipeline.commands", f"{line}\ndef f(con):\n    rows_of(con, read())")
        assert list(faults([gives, takes])) == [("pipeline.commands", "f")]
    takes = ("pipeline.commands", "from pipeline.reports import finding\ndef f(con):\n    finding.rows_of(con, read())")
    assert list(faults([takes, gives])) == [("pipeline.commands", "f")]
    assert list(faults([takes, gives], [("pipeline.commands", "f")])) == []
