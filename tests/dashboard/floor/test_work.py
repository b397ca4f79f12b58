"""What a paired phone may do: entries and timers, each once, by the very checks of the dashboard's forms."""

import json
from pathlib import Path
from typing import Any

import pytest

from dashboard.floor.app import WRITES_EACH
from dashboard.floor.offers import Offers, write
from dashboard.floor.page import forms
from dashboard.floor.work import Work
from dashboard.log_fields import BY_CATEGORY, FIRST, KINDS
from pipeline.pages import from_the_floor
from pipeline.records import CATEGORIES, RECORDS
from tests.dashboard.floor.conftest import Served, entry

POUR = {"pour": "R-001", "date": "2026-03-02", "part_a": "12,5", "part_b": "12.5", "unit": "g"}


def ids(number: int) -> str:
    return f"{number:032x}"


def test_an_entry_is_written_once_however_often_it_is_sent(served: Served) -> None:
    served.paired()
    for _ in range(3):
        answer = served.post("/entry", entry())
        assert (answer.status, answer.told["said"]) == (
            200,
            "date 2026-03-02, 1:30 h, sanding, on no piece: a cost of the month",
        )
    assert [row.split(",")[:6] for row in served.rows()] == [["2026-03-02", "", "", "1:30", "", "sanding"]]
    assert served.post("/entry", entry(ids(2))).status == 200  # an equal one is another
    assert len(served.rows()) == 2
    assert from_the_floor.written(served.shop) > 0
    assert len(served.ask("GET", "/now").told["written"]) == 2


def test_what_can_t_be_read_is_said_and_not_written_and_mended_it_is(served: Served) -> None:
    served.paired()
    cells = entry()["cells"]
    refused = served.post("/entry", entry(cells={**cells, "hours": "a while"}))
    assert (refused.status, served.rows()) == (422, [])
    assert "a while" in refused.told["what"]
    lacking = served.post("/entry", entry(cells={"date": "2026-03-02", "operation": "sanding"}))
    assert (lacking.status, "hours" in lacking.told["what"]) == (422, True)
    assert served.post("/entry", entry()).status == 200  # with the id that it had


def test_timers_start_and_stop_when_it_was_said_and_can_be_thrown_away(served: Served) -> None:
    served.paired()
    started = entry(ids(1), action="start", cells={"operation": "sanding", "pieces": "T-1"}, ago_s=7200)
    for _ in range(2):
        assert served.post("/entry", started).status == 200
    (timer,) = served.ask("GET", "/now").told["timers"]
    assert (timer["id"], timer["said"], timer["seconds"] >= 7200) == (ids(1), "sanding, T-1", True)
    for _ in range(2):
        assert served.post("/entry", entry(ids(2), action="stop", timer=ids(1), ago_s=3600)).status == 200
    (row,) = served.rows()
    assert "1:00:0" in row
    again = served.ask("GET", "/now").told
    assert (again["timers"], again["again"]["cells"]) == ([], {"operation": "sanding", "pieces": "T-1"})
    assert served.post("/entry", entry(ids(3), action="stop", timer=ids(1))).status == 422  # it runs no more
    assert served.post("/entry", entry(ids(4), action="start", cells=again["again"]["cells"])).status == 200
    assert served.ask("GET", "/now").told["fill"]["pieces"] == "T-1"
    assert served.post("/entry", entry(ids(5), action="drop", timer=ids(4))).status == 200
    assert served.ask("GET", "/now").told["timers"] == []
    late = served.post("/entry", entry(ids(6), action="start", cells={"operation": "sanding"}, ago_s=8 * 24 * 3600))
    assert (late.status, len(served.rows())) == (422, 1)


def test_what_must_be_asked_is_asked_as_the_dashboard_asks_it(served: Served) -> None:
    work = Work(served.shop)
    piece = {"piece": "T-031", "product": "tray", "started": "2026-03-01", "status": "in progress"}
    assert work.do(entry(ids(1), record="pieces", cells=piece))[0] == 200
    taken = work.do(entry(ids(2), record="pieces", cells=piece))
    assert (taken[0], taken[1]["what"]) == (409, "T-031 is a piece already.")
    bare = work.do(entry(ids(3), record="pieces", cells=piece | {"piece": "T-032", "length": "400"}))
    assert (bare[0], [list(answer.values()) for answer in bare[1]["answers"]]) == (409, [["400 mm"], ["400 in"]])
    # read as hours, it would be almost four days
    status, long = work.do(entry(ids(6), cells=entry()["cells"] | {"hours": "90"}))
    assert (status, long["answers"]) == (409, ({"hours": "90 min"}, {"hours": "90 h"}))
    assert work.do(entry(ids(6), cells=entry()["cells"] | long["answers"][0]))[0] == 200
    near = entry(ids(4), cells=entry()["cells"] | {"operation": "sandin"})
    status, asked = work.do(near)
    assert (status, asked["answers"], asked["may_stand"]) == (409, ({"operation": "sanding"},), True)
    assert work.do(near | {"sure": [["operation", "sandin"]]})[0] == 200
    # a tag that is spelled otherwise is the one on record
    assert work.do(entry(ids(5), cells=entry()["cells"] | {"pieces": "t31"}))[0] == 200
    assert "T-031" in served.rows()[-1] or any("T-031" in row for row in served.rows() if "sanding" in row)


@pytest.mark.parametrize(
    ("typed", "written", "asked"),
    [("12,5", "12.5", 0), ("12.5", "12.5", 0), ("0,125", "0.1250", 0), ("1,234", "", 2), ("1.234", "", 2)],
)
def test_a_number_is_never_taken_for_another(served: Served, typed: str, written: str, asked: int) -> None:
    status, told = Work(served.shop).do(entry(record="pours", cells=POUR | {"part_a": typed}))
    assert len(told.get("answers", ())) == asked
    if asked:
        assert [answer["part_a"] for answer in told["answers"]] == ["1.2340", "1234"]
        assert (status, served.rows()) == (409, [])
    else:
        assert (status, written in served.rows()[0].split(",")) == (200, True)


def test_a_suggested_tag_of_a_pour_that_another_took_meanwhile_is_not_used_twice(served: Served) -> None:
    work = Work(served.shop)
    suggested = work.now()["suggested"]["pours"]["pour"]
    assert work.do(entry(ids(1), record="pours", cells=POUR | {"pour": suggested}, suggested=suggested))[0] == 200
    assert work.do(entry(ids(2), record="pours", cells=POUR | {"pour": suggested}, suggested=suggested))[0] == 409
    # typed by hand it is another row of the same pour
    assert work.do(entry(ids(3), record="pours", cells=POUR | {"pour": suggested}))[0] == 200
    nexts = work.now()["suggested"]["pours"]["pour"]
    assert nexts != suggested
    # one tap gives it the tag that is free now
    assert work.do(entry(ids(2), record="pours", cells=POUR | {"pour": suggested}, suggested=suggested))[1][
        "answers"
    ] == ({"pour": nexts},)
    assert work.do(entry(ids(2), record="pours", cells=POUR | {"pour": nexts}, suggested=suggested))[0] == 200


def test_a_timer_is_thrown_away_once_however_often_it_is_said(tiny_shop: Path) -> None:
    work = Work(tiny_shop)
    for number in (1, 2):
        work.do(entry(ids(number), action="start", cells={"operation": "sanding"}))
    for _ in range(2):  # the first answer may have been lost on its way
        assert work.do(entry(ids(3), action="drop", timer=ids(1)))[0] == 200
    assert [timer["id"] for timer in work.now()["timers"]] == [ids(2)]
    # another phone's wish comes too late, and says so; an entry is no timer
    assert work.do(entry(ids(4), action="drop", timer=ids(1)))[0] == 422
    work.do(entry(ids(5), action="stop", timer=ids(2)))
    for gone in (ids(2), ids(5), ids(6)):
        assert work.do(entry(ids(7), action="drop", timer=gone))[0] == 422
    assert len(work.now()["written"]) == 1


def test_what_was_written_is_refreshed_though_its_mark_could_not_be_left(
    tiny_shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk may fail between the two; the entry is in the log, and the next time it is sent it is marked."""
    work = Work(tiny_shop)
    with monkeypatch.context() as broken:
        broken.setattr(Path, "touch", lambda *_, **__: (_ for _ in ()).throw(OSError(28, "full")))
        assert work.do(entry())[0] == 200
    assert from_the_floor.written(tiny_shop) == 0
    assert work.do(entry())[0] == 200
    assert from_the_floor.written(tiny_shop) > 0


def test_signs_that_nobody_can_type_don_t_stop_an_entry(tiny_shop: Path) -> None:
    """A half of a sign, or one that steers a terminal, may come along with a text that was pasted."""
    cells = entry()["cells"] | {"operation": "sanding\x00", "pieces": "T-1\ud800", "note": "a\x1b[2J\u2028b\r\nc"}
    assert Work(tiny_shop).do(entry(cells=cells))[0] == 200
    (path,) = (tiny_shop / "log").glob("*.csv")
    assert "sanding,T-1," in path.read_text(encoding="utf-8")
    assert "a [2J b c" in path.read_text(encoding="utf-8")
    assert not set(path.read_bytes()) & (set(range(32)) - {10})


def test_a_device_writes_so_many_times_in_a_minute(served: Served) -> None:
    served.paired()
    told = {"id": "x", "action": "entry"}
    found = [served.direct("/entry", told, cookie=served.cookie) for _ in range(WRITES_EACH + 1)]
    assert (set(found[:-1]), found[-1]) == ({400}, 429)


def test_the_forms_have_the_log_s_own_fields_and_order() -> None:
    assert [(form.title, form.record) for form in forms()] == list(KINDS.items())
    for form in forms():
        every = [asked.name for asked in (*form.asked, *form.more)]
        assert sorted(every) == sorted(field.name for field in RECORDS[form.record])
        assert every[: len(FIRST[form.record])] == list(FIRST[form.record])
    assert set(BY_CATEGORY) <= set(CATEGORIES)
    units = {
        form.record: asked.first for form in forms() for asked in (*form.asked, *form.more) if asked.name == "unit"
    }
    assert units == {"pours": "g", "usage": "each", "purchases": "", "counts": ""}
    purchases = {asked.name: asked.categories for form in forms() if form.record == "purchases" for asked in form.asked}
    assert (purchases["thickness"], purchases["pool"], purchases["amount"]) == ("wood", "overhead", "")


def test_offers_are_read_again_when_they_change_and_broken_ones_are_none(served: Served) -> None:
    write(served.shop, None)
    offers = Offers(served.shop)
    path = served.shop / ".shop-floor" / "offers.json"
    told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    told["hours"]["words"]["pieces"] = ["T-7"]
    path.write_text(json.dumps(told), encoding="utf-8")
    assert offers.of("hours").words["pieces"] == ["T-7"]
    whole = told["hours"]
    odd = [
        {**whole, part: value} for part in whole for value in (5, [5], {"pieces": 5}, {"pieces": [5]}, {"piece": {}})
    ]
    for number, bad in enumerate(["", "{", "[]", '{"hours": 5}', *(json.dumps({"hours": part}) for part in odd)]):
        path.write_text(bad + " " * number, encoding="utf-8")  # of another length: it is read again
        assert Work(served.shop).now()["day"], bad
        assert "T-7" not in offers.of("hours").words.get("pieces", []) or '"T-7"' in bad
