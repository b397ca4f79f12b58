"""How much of the resin and wood that was paid for is in a piece, and where did the rest go?"""

from typing import Any

import polars as pl

from dashboard import settings_in_force, widgets, words
from dashboard.charts.cached import sent_chart
from dashboard.charts.waterfall import steps
from dashboard.sections import resin as resin_parts
from dashboard.sections import wood as wood_parts
from dashboard.sections.resin import ALL_RESINS, Measure, measure
from dashboard.widgets import Narrowed, Page

QUESTION = "Where did the resin and the wood go?"
SPANS = {"12 months": "twelve months", "a month": "month", "all so far": "all"}
SPAN_WORDS = {"twelve months": "the twelve months to", "month": "", "all": "all months to"}

STAYS, LEFT = "Still on the shelf", "In pieces"

# step → its columns in grams and money end with _g and _cents
STEPS = {
    "On the shelf before": ("opening", 1),
    "Bought": ("bought", 1),
    "Receipt missing": ("missing", 1),
    "Found at a count": ("found", 1),
    "Rest in cups": ("cup", -1),
    "Trimmed off": ("trimmed", -1),
    "Spilled": ("spilled", -1),
    "Not explained": ("pour_unexplained", -1),
    "Other uses": ("other", -1),
    "Short at a count": ("shortage", -1),
    STAYS: ("on_hand", -1),
    LEFT: ("good", 1),
}


CAUTION = (
    "uncured resin and its hardener harm skin and lungs, and a deep pour can heat until it smokes: gloves, fresh air, "
    "and no more depth than the product's data sheet allows. Keep a torch away from solvents. Dust of wood and of "
    "cured resin belongs in an extractor and a mask, not in the lungs. The data sheet and your local rules decide."
)


def show(page: Page) -> None:
    spans, wood = page.book.resin_spans(), page.book.wood_groups()
    if not spans.height and not wood.height:
        widgets.answer(QUESTION, "No resin or wood is on record yet.")
        widgets.empty(
            "Nothing was bought or poured.",
            "A purchase of resin or wood begins it; pours and pieces say where it went.",
        )
        return
    head = widgets.head()
    with widgets.filters():
        chosen = widgets.switch("Material", "material", ["resin", "wood"], "resin" if spans.height else "wood")
        shown = widgets.switch("Shown in", "shown", ["quantity", "money"])
        page = widgets.choose_units(page)
        only = widgets.narrow(page)
    if not (spans if chosen == "resin" else wood).height:
        widgets.answer(QUESTION, f"No {chosen} is on record yet.", head)
        widgets.empty(f"No {chosen} was bought or used.", f"A purchase of {chosen} begins it.")
    elif chosen == "resin":
        _resin(page, _choose_resin(page, spans), shown, only, head)
    else:
        wood_parts.show(page, wood, shown, only, QUESTION, head)
    widgets.caution(CAUTION)


def _choose_resin(page: Page, spans: pl.DataFrame) -> dict[str, Any]:
    with widgets.filters():
        month = widgets.choose_month(page)
        span = SPANS[widgets.choose("Over", "span", list(SPANS))]
        items = sorted(set(spans["item"].to_list()) - {ALL_RESINS})
        item = widgets.choose("Resin", "resin", [ALL_RESINS, *items])
    return spans.filter(pl.col("item") == item, pl.col("month") == month, pl.col("span") == span).row(0, named=True)


def _when(resin: dict[str, Any]) -> str:
    return f"{SPAN_WORDS[resin['span']]} {words.month(resin['month'])}".strip()


def _resin(page: Page, resin: dict[str, Any], shown: str, only: Narrowed, head: Any) -> None:
    widgets.narrowed(only, "the pours that wasted most", "The balance of the resin is the whole shop's.")
    widgets.answer(QUESTION, _sentence(resin), head)
    _figures(page, resin)
    widgets.advice(_advice(page, resin))
    by = measure(page, shown)
    _way(page, resin, by)
    resin_parts.show(page, resin, _when(resin), by, only)
    if box := widgets.folded("How it is counted: the rules in force", "rules"):
        with box:
            settings_in_force.show(page, widgets.last_day(resin["month"]), "flow", "tax", "late")


def _sentence(resin: dict[str, Any]) -> str:
    if resin["good_share"] is None:
        return f"In {_when(resin)}, no resin was poured."
    if resin["pours"] < words.FEW:
        pours = words.count(resin["pours"], "pour")
        return f"In {_when(resin)}, {pours}: too few to say how much resin ends in pieces."
    return f"In {_when(resin)}, {words.share(resin['good_share'])} of the resin poured is in pieces."


def _figures(page: Page, resin: dict[str, Any]) -> None:
    weight, money = page.units.grams, page.money.round
    wasted = f"of {money(resin['resin_cents'])} poured"
    widgets.figures(
        [
            (
                "In pieces",
                _share(resin, "good_share"),
                weight(resin["good_g"]),
                "good_share",
            ),
            ("Poured", weight(resin["poured_g"]), words.count(resin["pours"], "pour"), "poured_g", "?worst-pours"),
            (
                "Wasted",
                _share(resin, "wasted_share"),
                weight(resin["wasted_g"]),
                "wasted_share",
                "?balance",
            ),
            ("Waste in money", money(resin["waste_cents"]), wasted, "waste_cents", "?balance"),
            ("On the shelf by the book", weight(resin["on_hand_g"]), money(resin["on_hand_cents"]), "on_hand_g"),
        ],
        page,
    )


def _share(resin: dict[str, Any], column: str) -> str:
    """A share of what was poured, or that too few pours tell it."""
    told = words.share.otherwise("none poured")(resin[column])
    return words.firm(told, resin["pours"] or words.FEW, "too few pours")


def _way(page: Page, resin: dict[str, Any], by: Measure) -> None:
    weight = page.units.grams
    every = pl.DataFrame(
        [
            {
                "step": step,
                "amount": float(sign * resin[column + by.suffix]),
                "total": step == LEFT,
                "stays": step == STAYS,
            }
            for step, (column, sign) in STEPS.items()
            if resin[column + by.suffix] or step == LEFT
        ]
    )
    left = f"{by(resin['good' + by.suffix])} in pieces"
    wasted = f"{weight(resin['wasted_g'])} of what was poured wasted ({page.money.round(resin['waste_cents'])})"
    none = f"none poured, {by(resin['on_hand' + by.suffix])} on the shelf"
    title = f"The way of {resin['item']}: {f'{left}, {wasted}' if resin['poured_g'] else none}"
    alt = "Bars from what was on the shelf and bought, loss by loss, to what is in pieces: " + ", ".join(
        f"{step} {by(amount)}" for step, amount in every.select("step", "amount").iter_rows()
    )
    last = widgets.last_day(resin["month"])
    opens = {
        step: widgets.behind("resin", resin["item"], STEPS[step][0], resin["from_month"], last, step.casefold())
        for step in every["step"]
    }
    room = widgets.head()
    frame, small = widgets.small_ones(every, "step", "amount", "resin-way", (LEFT, STAYS))
    chart = sent_chart(steps, frame, title, by.name, page.look, digits=by.digits, scale=by.factor)
    with room:
        asks = "The records behind a step"
        widgets.picture(chart, alt, "resin-way", "step", opens=opens | small, asks=asks)


def _advice(page: Page, resin: dict[str, Any]) -> list[str]:
    losses = {name: resin[f"{column}_g"] for name, (column, sign) in STEPS.items() if sign < 0 and name != STAYS}
    worst = max(losses, key=lambda name: losses[name])
    weight, said = page.units.grams, []
    tips = {
        "Rest in cups": (
            "mix nearer to what the last pours of this size took, and keep a small mould ready for the rest"
        ),
        "Trimmed off": "tape nearer to the edge, and level the mould before pouring",
        "Spilled": "seal moulds and live edges before the pour",
        "Not explained": "weigh the cup after the pour, so that the rest has a name",
        "Other uses": "log what it was for",
        "Short at a count": "a pour is missing in the log, or a tin was given away",
    }
    if losses[worst] > 0:
        said.append(f"Most was lost as “{worst.lower()}”, {weight(losses[worst])}: {tips[worst]}.")
    if resin["missing_g"] > 0:
        said.append(f"{weight(resin['missing_g'])} was poured that no receipt brought in: look for the receipt.")
    return said
