"""The judge of strangers' piles tells what is right from what is wrong, waits, or was lost."""

import json
from pathlib import Path

from pipeline import shop as shops
from tests.piles.strangers import by_reason, judged, truth_of


def test_each_row_is_held_against_its_truth(tiny_shop: Path) -> None:
    inbox = tiny_shop / "inbox"
    (inbox / "work.csv").write_text(
        "date,person,operation,hours,pieces\n2026-03-01,Ada,sanding,1:30,T-1\n2026-03-02,Ada,sanding,2:00,T-1\n"
        "2026-03-03,Ada,sanding,two,T-1\n2026-03-04,Ada,carving,1:00,T-1\n",
        encoding="utf-8",
    )
    (inbox / "list.csv").write_text("Blorp,Zib\nqua,$4\nnoc,$5\n", encoding="utf-8")
    hours = {"person": "Ada", "pieces": ["T1"], "operation": "sand"}
    rows = [
        ("work.csv", 2, "hours", {"date": "2026-03-01", "seconds": 5400, **hours}),
        ("work.csv", 3, "hours", {"date": "2026-03-02", "seconds": 3600, **hours}),
        ("work.csv", 4, "hours", {"date": "2026-03-03", "seconds": 7200, **hours}),
        ("work.csv", 5, "hours", {"date": "2026-03-04", "seconds": 3600, "event": "fair"}),
        ("work.csv", 9, "hours", {"date": "2026-03-05"}),
        ("work.csv", 5, None, {}),
        ("list.csv", 2, "purchases", {"amount": 4}),
    ]
    lines = [json.dumps(dict(zip(("file", "row", "record", "facts"), row, strict=True))) for row in rows]
    (tiny_shop / "truth.jsonl").write_text("\n".join(lines), encoding="utf-8")
    found = judged(shops.load(tiny_shop), truth_of(tiny_shop / "truth.jsonl"))
    ends = {(file, row): end for (file, _, row), end in found.ends.items()}
    assert ends == {
        ("work.csv", 2): "right", ("work.csv", 3): "wrong", ("work.csv", 4): "stuck", ("work.csv", 5): "lacking",
        ("work.csv", 9): "lost", ("list.csv", 2): "waiting",
    }  # fmt: skip
    assert "hours: 3600 read as 7200" in next(text for _, text in by_reason(found, {"wrong"}))
