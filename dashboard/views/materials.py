"""How much of the resin and wood that was paid for is in a piece, and where did the rest go?"""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import parts, words
from dashboard.charts.materials import waste_by_month, yields
from dashboard.charts.steps import steps
from dashboard.parts import Column, Page

QUESTION = "Where did the resin and the wood go?"
ALL_RESINS = "all resins"
SPANS = {"12 months": "twelve months", "a month": "month", "all so far": "all"}
SPAN_WORDS = {"twelve months": "the twelve months to", "month": "", "all": "all months to"}
FACTORS = ("species", "supplier", "form")

STEPS = {
    "On the shelf before": ("opening_g", 1),
    "Bought": ("bought_g", 1),
    "Receipt missing": ("missing_g", 1),
    "Found at a count": ("found_g", 1),
    "Left in cups": ("cup_g", -1),
    "Trimmed off": ("trimmed_g", -1),
    "Spilled": ("spilled_g", -1),
    "Not explained": ("pour_unexplained_g", -1),
    "Other uses": ("other_g", -1),
    "Short at a count": ("shortage_g", -1),
    "Still on the shelf": ("on_hand_g", -1),
    "In pieces": ("good_g", 1),
}


def show(page: Page) -> None:
    spans = page.book.resin_spans()
    wood = page.book.wood_groups()
    if not spans.height and not wood.height:
        parts.answer(QUESTION, "No resin or wood is on record yet.")
        parts.empty(
            "Nothing was bought or poured.",
            "Rows of `purchases` with the category resin or wood begin it; `pours` and `pieces` say where it went.",
        )
        return
    head = parts.head()
    resin = _choose_resin(page, spans) if spans.height else None
    parts.answer(QUESTION, _sentence(page, resin, wood), head)
    if resin:
        _resin(page, resin)
    if wood.height:
        _wood(page, wood)
    parts.caution(
        "uncured resin and its hardener harm skin and lungs, and a deep pour can heat until it "
        "smokes: gloves, fresh air, "
        "and no more depth than the product's data sheet allows. Keep a torch away from solvents. Dust of wood and of "
        "cured resin belongs in an extractor and a mask, not in the lungs. The data sheet and your local rules decide."
    )


def _choose_resin(page: Page, spans: pl.DataFrame) -> dict[str, Any]:
    with parts.filters():
        month = parts.choose_month(page)
        span = SPANS[parts.choose("Over", "span", list(SPANS))]
        items = sorted(set(spans["item"].to_list()) - {ALL_RESINS})
        item = parts.choose("Resin", "resin", [ALL_RESINS, *items])
    return spans.filter(pl.col("item") == item, pl.col("month") == month, pl.col("span") == span).row(0, named=True)


def _when(resin: dict[str, Any]) -> str:
    return f"{SPAN_WORDS[resin['span']]} {words.month(resin['month'])}".strip()


def _sentence(page: Page, resin: dict[str, Any] | None, wood: pl.DataFrame) -> str:
    said = []
    if resin and resin["good_share"] is not None:
        said.append(
            f"In {_when(resin)}, {words.share(resin['good_share'])} of the "
            f"{page.units.heavy(resin['poured_g'])} of resin poured is in "
            f"pieces, and {page.money.round(resin['waste_cents'])} of it went to waste"
        )
    elif resin:
        said.append(f"In {_when(resin)} no resin was poured")
    every = wood.filter(pl.col("factor") == "all")
    if every.height:
        row = every.row(0, named=True)
        said.append(
            f"{words.share(row['yield_share'])} of the wood in {words.count(row['lots'], 'cut lot')} "
            "became finished work"
        )
    return f"{'; '.join(said)}." if said else "Nothing was poured or cut yet."


def _resin(page: Page, resin: dict[str, Any]) -> None:
    heavy = page.units.heavy
    parts.figures(
        [
            ("Poured", heavy(resin["poured_g"]), words.count(resin["pours"], "pour")),
            ("In pieces", words.share(resin["good_share"]), heavy(resin["good_g"])),
            ("Wasted", words.share(resin["wasted_share"]), heavy(resin["wasted_g"])),
            (
                "Waste in money",
                page.money.round(resin["waste_cents"]),
                f"of {page.money.round(resin['resin_cents'])} poured",
            ),
            ("On the shelf by the book", heavy(resin["on_hand_g"]), "at the end"),
        ]
    )
    frame = pl.DataFrame(
        [
            {"step": step, "amount": sign * resin[column], "total": step == "In pieces"}
            for step, (column, sign) in STEPS.items()
            if resin[column] or step == "In pieces"
        ]
    )
    title = (
        f"The way of {resin['item']}: {heavy(resin['good_g'])} in pieces, {heavy(resin['wasted_g'])} of "
        "what was poured wasted"
    )
    alt = "Bars from what was on the shelf and bought, loss by loss, to what is in pieces: " + ", ".join(
        f"{step} {heavy(amount)}" for step, amount in frame.select("step", "amount").iter_rows()
    )
    parts.picture(steps(frame, title, heavy.name, page.look, digits=heavy.digits, scale=heavy.factor), alt, "resin-way")
    parts.advice(_advice(page, resin))
    _waste(page, resin)
    _pours(page, resin)


def _advice(page: Page, resin: dict[str, Any]) -> list[str]:
    losses = {
        name: resin[column] for name, (column, sign) in STEPS.items() if sign < 0 and name != "Still on the shelf"
    }
    worst = max(losses, key=lambda name: losses[name])
    heavy, said = page.units.heavy, []
    tips = {
        "Left in cups": (
            "mix nearer to what the last pours of this size took, and keep a small mould ready for the rest"
        ),
        "Trimmed off": "tape nearer to the edge, and level the mould before pouring",
        "Spilled": "seal moulds and live edges before the pour",
        "Not explained": "weigh the cup after the pour, so that the rest has a name",
        "Other uses": "log what it was for",
        "Short at a count": "a pour is missing in the log, or a tin was given away",
    }
    if losses[worst] > 0:
        said.append(f"Most was lost as “{worst.lower()}”, {heavy(losses[worst])}: {tips[worst]}.")
    if resin["missing_g"] > 0:
        said.append(f"{heavy(resin['missing_g'])} was poured that no receipt brought in: look for the receipt.")
    return said


def _waste(page: Page, resin: dict[str, Any]) -> None:
    months = page.book.resin_spans().filter(
        pl.col("span") == "month", pl.col("item") == resin["item"], pl.col("month") <= resin["month"]
    )
    shown = months.tail(12)
    heavy = page.units.heavy
    title = f"What was wasted, month by month: {heavy(resin['wasted_g'])} in {_when(resin)}"
    parts.picture(
        waste_by_month(shown, title, heavy.name, heavy.factor, page.look),
        f"{title}. Stacked bars by cause; the table below holds the same.",
        "waste-months",
    )
    weight = page.units.weight
    box = st.expander("The resin balance, month by month", key="balance", on_change="rerun")
    if box.open:
        with box:
            columns = [
                Column("month", "Month", lambda day: f"{day:%Y-%m}"),
                *(
                    Column(name, heading, lambda g: f"{g * weight.factor:,.{weight.digits}f}", number=True)
                    for name, heading in _BALANCE.items()
                ),
            ]
            st.html(f'<p class="kl-quiet">In {weight.name}.</p>')
            parts.table(page, months.reverse(), columns, "resin-balance")


_BALANCE = {
    "opening_g": "Before",
    "bought_g": "Bought",
    "poured_g": "Poured",
    "good_g": "In pieces",
    "trimmed_g": "Trimmed",
    "cup_g": "In cups",
    "spilled_g": "Spilled",
    "pour_unexplained_g": "Not explained",
    "shortage_g": "Short",
    "on_hand_g": "On the shelf",
}


def _pours(page: Page, resin: dict[str, Any]) -> None:
    parts.part("The pours that wasted most")
    pours = page.book.pours().filter(
        pl.col("on_date").dt.truncate("1mo").is_between(resin["from_month"], resin["month"])
        & ((pl.col("resin") == resin["item"]) | (resin["item"] == ALL_RESINS))
    )
    weight = page.units.weight
    columns = [
        Column("pour", "Pour"),
        Column("on_date", "Day", words.day),
        Column("purpose", "For"),
        Column("resin", "Resin"),
        Column("mixed_g", "Mixed", weight, number=True),
        Column("good_g", "In pieces", weight, number=True),
        Column("left_in_cup_g", "In cups", weight, number=True),
        Column("spilled_g", "Spilled", weight, number=True),
        Column("trimmed_g", "Trimmed", weight, number=True),
        Column("good_share", "Good", words.share, number=True),
        Column("waste_cents", "Wasted", page.money, number=True),
        Column("off_ratio", "Off its ratio"),
    ]
    parts.table(page, pours, columns, "pours", shown=8)
    if not pours.height:
        return
    tag = st.selectbox("Open a pour", pours["pour"].to_list(), index=None, placeholder="its tag", key="pour")
    if tag:
        row_id = pours.filter(pl.col("pour") == tag)["row_id"][0]
        parts.records(page, page.book.record_trace(row_id), f"pour {tag}")


def _wood(page: Page, wood: pl.DataFrame) -> None:
    parts.part("The wood")
    factor = parts.choose("By", "wood", FACTORS)
    groups = wood.filter(pl.col("factor") == factor)
    worst, best = groups.row(0, named=True), groups.row(-1, named=True)
    title = (
        f"Yield by {factor}: from {words.share(worst['yield_share'])} ({worst['level']}) to "
        f"{words.share(best['yield_share'])} ({best['level']})"
    )
    parts.picture(yields(groups, title, page.look), f"{title}. The table below holds the same.", f"yields-{factor}")
    unit, per = page.units.wood, page.units.per_wood
    columns = [
        Column("level", factor.capitalize()),
        Column("lots", "Cut lots", number=True),
        Column("pieces", "Pieces", number=True),
        Column("yield_share", "Yield", words.share, number=True),
        Column("low_share", "Half of the lots from", words.share, number=True),
        Column("high_share", "to", words.share, number=True),
        Column("bought_dm3", "Bought", unit, number=True),
        Column("finished_dm3", "Finished", unit, number=True),
        Column("on_hand_dm3", "Left", unit, number=True),
        Column(
            "cents_per_finished_dm3",
            f"Cost a finished {per.name}",
            lambda cents: page.money(cents and cents * per.factor),
            number=True,
        ),
    ]
    parts.table(page, groups, columns, f"yield-by-{factor}")
    st.html(
        '<p class="kl-quiet">Yield is the finished volume over the volume of the lots from which '
        "something was cut; the rest is kerf, dust, offcut, or still there.</p>"
    )
    box = st.expander("Lot by lot", key="lots", on_change="rerun")
    if box.open:
        with box:
            _lots(page)


def _lots(page: Page) -> None:
    unit = page.units.wood
    columns = [
        Column("lot", "Lot"),
        Column("species", "Species"),
        Column("supplier", "Supplier"),
        Column("form", "Form"),
        Column("bought_on", "Bought", words.day),
        Column("pieces", "Pieces", number=True),
        Column("bought_dm3", "Volume", unit, number=True),
        Column("finished_dm3", "Finished", unit, number=True),
        Column("on_hand_dm3", "Left", unit, number=True),
        Column("yield_share", "Yield", words.share, number=True),
        Column("landed_cents", "Cost", page.money, number=True),
    ]
    parts.table(page, page.book.wood_lots(), columns, "wood-lots", shown=15)
