"""The commands as one calls them: what they print, and how they end."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from pipeline import commands, database
from pipeline.commands import main
from pipeline.errors import UserError

Published = Callable[..., Path]
Capture = pytest.CaptureFixture[str]

PIECE = {"piece": "T-1", "product": "tray", "quantity": 1, "made_cents": 500, "unit_cents": 500, "logged_share": 1.0}
MOVE = {
    "on_date": "2026-03-01",
    "piece": "T-1",
    "layer": "wood",
    "cents": 500,
    "from_place": "stock",
    "to_place": "piece",
}
MOVE |= {"row_id": 1, "paid_row_id": 1}


def test_every_command_has_help_with_an_example(capsys: Capture) -> None:
    for command in commands.COMMANDS:
        with pytest.raises(SystemExit) as ended:
            main([command.name, "--help"])
        shown = " ".join(capsys.readouterr().out.split())
        assert ended.value.code == 0
        assert f"Example: {command.example}" in shown
        assert command.example.startswith(f"kerfledger {command.name}")


def test_help_lists_every_command(capsys: Capture) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    shown = capsys.readouterr().out
    assert ended.value.code == 0
    assert [command.name for command in commands.COMMANDS if f"\n    {command.name} " not in shown] == []


@pytest.mark.parametrize("call", [[], ["saw"], ["trace", "shop"], ["peek"], ["peek", "a.csv", "--csv", "--json"]])
def test_a_wrong_call_ends_with_2(call: list[str], capsys: Capture) -> None:
    with pytest.raises(SystemExit) as ended:
        main(call)
    assert ended.value.code == 2
    assert "usage: kerfledger" in capsys.readouterr().err


@pytest.mark.parametrize(
    "call",
    [
        *([command, "x" * 5000] for command in ("refresh", "check", "where", "new", "demo", "peek")),
        *([command, "a\0b"] for command in ("refresh", "new", "peek")),
        ["map", "{shop}", "x" * 300],
        ["check", "{shop}", "--set-aside", "x" * 300],
        ["export", "{shop}", "--to", "x" * 300],
        ["quote", "{shop}", "--product", "tray", "--sheet", "x" * 300],
        *(["show", "{shop}", "--port", port] for port in ("-1", "0", "65536", "1e4", "٨٥٠١")),
        ["map", "{shop}", "hours.csv", "--set", ""],
    ],
)
def test_what_nothing_can_be_called_ends_with_2(tiny_shop: Path, capsys: Capture, call: list[str]) -> None:
    try:
        code: object = main([text.replace("{shop}", str(tiny_shop)) for text in call])
    except SystemExit as ended:
        code = ended.code
    assert code == 2
    assert 0 < len(capsys.readouterr().err) < 1500


@pytest.mark.parametrize("command", ["refresh", "check", "show", "where"])
def test_a_folder_that_is_no_shop_ends_with_2_and_says_what_to_do(
    command: str, tmp_path: Path, capsys: Capture
) -> None:
    assert main([command, str(tmp_path / "nowhere")]) == 2
    shown = capsys.readouterr().err
    assert str(tmp_path / "nowhere") in shown
    assert "mend:" in shown


def test_where_prints_the_newest_database(published: Published, capsys: Capture) -> None:
    shop = published()
    published()
    newest = str((shop / "database" / "shop-000002.duckdb").resolve())
    assert main(["where", str(shop)]) == 0
    assert capsys.readouterr().out == newest + "\n"
    assert main(["where", str(shop), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"database": newest}


def test_trace_prints_the_piece_and_its_records(published: Published, capsys: Capture) -> None:
    place = {"row_id": 1, "record": "pieces", "file": "inbox/p.csv", "sheet": "", "row": 4}
    shop = published(cost__piece=[PIECE], cost__trace=[MOVE], intake__row=[place])
    assert main(["trace", str(shop), "t-1"]) == 0
    shown = capsys.readouterr().out
    assert "Cost 5.00" in shown
    assert "1 record" in shown
    assert "inbox/p.csv, row 4" not in shown
    assert main(["trace", str(shop), "t-1", "--all"]) == 0
    assert "inbox/p.csv, row 4" in capsys.readouterr().out
    assert main(["trace", str(shop), "T-1", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["made_cents"] == 500
    assert [(line["layer"], line["cents"], line["records"][0]["row"]) for line in data["cost"]] == [("wood", 500, 4)]


def test_an_unknown_piece_ends_with_2_and_suggests_one(published: Published, capsys: Capture) -> None:
    assert main(["trace", str(published(cost__piece=[PIECE])), "T-11"]) == 2
    assert "Nearest tags: T-1." in capsys.readouterr().err


def test_check_ends_with_1_on_errors_only(published: Published, capsys: Capture) -> None:
    warning = {"name": "late", "severity": "warning", "rows": 1, "meaning": "Late."}
    assert main(["check", str(published(checks__result=[warning]))]) == 0
    rejected = {"file": "a.csv", "sheet": "", "row": 2, "code": "date", "text": "soon"}
    capsys.readouterr()
    assert main(["check", str(published(intake__rejected=[rejected])), "--json"]) == 1
    assert [f["kind"] for f in json.loads(capsys.readouterr().out)] == ["set aside: date"]


def test_refresh_prints_what_came_in(tiny_shop: Path, capsys: Capture) -> None:
    text = "date,person,operation,hours\n2026-02-01,Ada,sanding,1:30\n2026-02-30,Ada,sanding,1:00\n"
    (tiny_shop / "inbox" / "hours.csv").write_text(text, encoding="utf-8")
    assert main(["refresh", str(tiny_shop)]) == 0
    shown = capsys.readouterr().out
    assert "3 rows in 1 file:" in shown
    assert "1  set aside" in shown
    assert main(["refresh", str(tiny_shop), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["published"].endswith("shop-000001.duckdb")  # nothing has changed, so it stays
    assert (data["counts"]["loaded"], data["counts"]["set_aside"]) == (1, 1)


def test_a_bug_of_ours_shows_no_traceback_but_keeps_it(
    published: Published, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a bug")

    shop = published()
    monkeypatch.setattr("pipeline.reports.check.findings", broken)
    assert main(["check", str(shop)]) == 3
    shown = capsys.readouterr()
    assert "Traceback" not in shown.out + shown.err
    assert "fault of the tool" in shown.err
    log = (shop / "database" / "refresh.log").read_text(encoding="utf-8")
    assert "ZeroDivisionError" in log
    assert "at pipeline/commands/__init__.py:" in log
    assert "a bug" not in log + shown.err  # the message of an exception may hold what stands in a cell


def test_peek_writes_the_cells_unchanged(tmp_path: Path, capsys: Capture) -> None:
    file = tmp_path / "a.csv"
    file.write_text("Datum;Betrag\n31.5.2026;1.234,50 €\n", encoding="utf-8")
    assert main(["peek", str(file), "--csv"]) == 0
    assert '31.5.2026,"1.234,50 €"\n' in capsys.readouterr().out
    assert main(["peek", str(file), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["sheet"] == ""
    assert main(["peek", str(tmp_path / "gone.csv")]) == 2


SLOW_TO_LOAD = ("polars", "streamlit", "altair", "scipy", "pint")


@pytest.mark.parametrize("call", ["['--help']", "['where', sys.argv[1]]"])
def test_quick_commands_load_no_slow_library(call: str, published: Published) -> None:
    code = f"import sys\nfrom pipeline.commands import main\ntry: main({call})\n"
    code += "except SystemExit: pass\nprint(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code, str(published())], capture_output=True, text=True, check=True)
    loaded = set(ran.stdout.split())
    assert "pipeline.commands" in loaded
    assert loaded.isdisjoint(SLOW_TO_LOAD)


def test_the_demo_prints_the_last_whole_month(demo: Path, capsys: Capture) -> None:
    stands = (demo / "shop.toml").stat().st_mtime_ns
    assert main(["demo", str(demo), "--no-show"]) == 0
    shown = capsys.readouterr().out
    assert "it stays as it is" in shown
    assert (demo / "shop.toml").stat().st_mtime_ns == stands
    month = shown[shown.index("its figures stay") :]
    for words in ("Sold (", "Cost of what was sold", "Result in the books", "What an hour paid ("):
        assert words in month


def test_the_demo_never_writes_over_something_else(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    assert main(["demo", str(tmp_path), "--no-show"]) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_database_of_an_older_version_says_what_to_run(
    published: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    shop = published()
    with duckdb.connect(str(database.newest(shop))) as con:
        con.execute("drop table money.month")
    assert main(["report", str(shop), "--month", "2026-05"]) == 2
    assert f"Make a new one with: kerfledger refresh {shop}" in capsys.readouterr().err


def test_user_errors_say_what_where_and_what_to_do() -> None:
    assert str(UserError("It broke.", "a.toml", "Mend it.")) == "It broke.\n  where: a.toml\n  mend:  Mend it."
    assert str(UserError("It broke.")) == "It broke."
