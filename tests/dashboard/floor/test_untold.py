"""What a phone isn't told, whatever it asks: amounts of money, notes and other free text, what the settings say.

A phone that is lost must tell no prices. Each amount here has the digits 98765, each text that is nobody's business the
word `secret`; neither may be in anything that is sent to a phone.
"""

import json
from functools import partial
from pathlib import Path

import pytest

from dashboard.floor import offers
from dashboard.floor.offers import Offers
from dashboard.floor.work import DONE, Work
from pipeline.pages import daylog
from pipeline.pages.from_the_floor import UnreadableError
from pipeline.records import RECORDS
from pipeline.shop import load
from tests.dashboard.floor.conftest import ID, entry
from tests.refreshed import TINY_SHOP

AMOUNT, TEXT = "98765", "secret"
NEEDED = {
    "date": "2026-03-02", "started": "2026-03-02", "status": "in progress", "quantity": "1", "unit": "each",
    "item": "walnut", "category": "wood", "channel": "market", "product": "tray", "piece": "T-009",
    "operation": "sanding", "hours": "1:00", "paid_currency": "USD",
}  # fmt: skip


def of_all_fields(record: str) -> dict[str, str]:
    """An entry with all fields of a record that hold an amount or a free text, and what else it needs."""
    told = {"money": AMOUNT, "text": TEXT, "number": AMOUNT}
    fields = RECORDS[record].fields
    return {field.name: told[field.kind] for field in fields if field.kind in told} | {
        field.name: NEEDED[field.name] for field in fields if field.name in NEEDED
    }


def clean(told: object) -> bool:
    """Whether what is told holds none of it, however an amount is written."""
    said = json.dumps(told, ensure_ascii=False)
    return AMOUNT not in said.replace(",", "").replace(".", "") and TEXT not in said


@pytest.mark.parametrize("record", ["purchases", "sales", "pieces", "counts", "hours"])
def test_an_entry_is_told_without_its_amounts_and_texts(tiny_shop: Path, record: str) -> None:
    """That of the computer in the day's list, and that of a phone in what is said to it, also when it is sent again.

    Ids of the list are not told: whoever knows one could ask what became of it, and even then is told no more.
    """
    there = daylog.add(load(tiny_shop), record, of_all_fields(record))
    work = Work(tiny_shop)
    now = work.now()
    assert len(now["written"]) == 1
    assert clean(now)
    assert there.id not in json.dumps(now)
    cells = of_all_fields(record) | ({"piece": "T-010"} if record == "pieces" else {})
    status, told = work.do(entry(record=record, cells=cells))
    assert status == DONE, told
    for sent in (told, work.do(entry())[1], work.do(entry(there.id))[1]):
        assert clean(sent)
        assert "not shown here" in sent["said"], "that there is more is said"


def test_a_timer_and_the_work_to_start_again_have_no_note(tiny_shop: Path) -> None:
    work, shop = Work(tiny_shop), load(tiny_shop)
    timer = daylog.start(shop, {"operation": "sanding", "pieces": "T-1", "note": f"{TEXT} {AMOUNT}"})
    assert clean(work.now())
    daylog.stop(shop, timer.id)
    now = work.now()
    assert now["again"]["cells"] == {"operation": "sanding", "pieces": "T-1"}
    assert clean(now)
    assert clean(work.do(entry(timer.id))[1])


def test_a_word_that_names_a_price_is_not_offered(tiny_shop: Path) -> None:
    priced = [
        f"slab €{AMOUNT}",
        f"plank {AMOUNT} €",
        f"rail {AMOUNT},00 EUR",
        f"$ {AMOUNT} kit",
        f"bar EUR {AMOUNT},-",
    ]
    items = "".join(f'[[items]]\nname = "{name}"\ncategory = "resin"\n' for name in [*priced, "disc P80"])
    (tiny_shop / "shop.toml").write_text(f"{TINY_SHOP}\n{items}", encoding="utf-8")
    shop = load(tiny_shop)
    for number, name in enumerate(priced):
        daylog.add(shop, "pieces", {"piece": f"T-{number}", "product": name, "started": "2026-03-02"})
        mixed = {"pour": "R-1", "date": "2026-03-02", "resin": name, "part_a": "1", "part_b": "1", "unit": "g"}
        daylog.add(shop, "pours", mixed)
        daylog.start(shop, {"operation": name, "pieces": f"T-{number}"})
        daylog.stop(shop, daylog.start(shop, {"operation": name}).id)
    offers.write(tiny_shop, None)
    work = Work(tiny_shop)
    now = work.now()
    assert clean(now)
    assert ["disc P80", "disc P80"] in now["words"]["usage"]["item"]
    assert ["T-1", "T-1"] in now["words"]["hours"]["pieces"]
    assert work.do(entry(cells=entry()["cells"] | {"pieces": "T-1"}))[0] == DONE


def test_what_is_wrong_with_the_shop_is_said_at_the_computer_alone(tiny_shop: Path) -> None:
    """A sentence about the settings, or a mapping, repeats what stands there: a rate, a rent."""
    settings, mapping = tiny_shop / "shop.toml", tiny_shop / "mappings" / "own.toml"
    mapping.parent.mkdir(exist_ok=True)
    work, sound = Work(tiny_shop), settings.read_text(encoding="utf-8")
    work.warm()
    broken = (
        (settings, f'{sound}\n[[people]]\nname = "B"\nrate = "{TEXT} {AMOUNT}"\n'),
        (settings, f'{sound}\n[[people]]\nname = "B"\n{TEXT} = {AMOUNT}\n'),
        (mapping, f'files = "log/*"\nrecord = "{TEXT} {AMOUNT}"\n'),
    )
    for path, text in broken:
        path.write_text(text, encoding="utf-8")
        asked = [work.now] if path == settings else []
        for sent in (entry(), entry(action="start", cells={"operation": "sanding"}), entry(action="drop", timer=ID)):
            asked.append(partial(work.do, sent))
        for each in asked:
            with pytest.raises(UnreadableError) as refused:  # the phone keeps it, and sends it again
                each()
            assert clean([refused.value.what, refused.value.where, refused.value.mend])
        settings.write_text(sound, encoding="utf-8")
        mapping.unlink(missing_ok=True)
    assert Offers(tiny_shop).of("hours")
    assert work.do(entry())[0] == DONE
