"""What did this piece truly cost, and which records are behind it?"""

from typing import Any

import polars as pl
import streamlit as st

from dashboard import links, settings_in_force, widgets, words
from dashboard.charts import small_bars
from dashboard.charts.cached import sent_chart
from dashboard.charts.piece import anatomy, spread
from dashboard.sections import finishing
from dashboard.widgets import ANY, Column, Page
from dashboard.wrong_address import WrongAddressError

QUESTION = "What did this piece truly cost?"

KEY, BEFORE = "piece", "piece before"
"""The part of the address, and the widget, that says which piece; the one looked at before another page was."""

MOST_WORDS = 20
"""Words of an answer: a name that takes more of them is left to the choice beside it."""

MOST_DOTS = 1500
"""More dots than this are one smear, and slow on a phone."""


def show(page: Page) -> None:
    pieces = page.book.pieces()
    if not pieces.height:
        widgets.answer(QUESTION, "There is no piece yet.")
        widgets.empty("No piece is on record.", "A new piece on the Log page, with a tag and what it is, begins it.")
        return
    if (asked := st.query_params.get(KEY, "")) not in ("", *pieces["piece"]):
        raise WrongAddressError("Piece", KEY, asked)
    head = widgets.head()
    with widgets.filters():
        month = widgets.choose_any_month(page)
        only = widgets.narrow(page)
        place = st.container(width=400)  # a tag with its product and species, whole on a phone too
    chosen = only.pieces(pieces)
    if month:
        chosen = chosen.filter(pl.col("finished").dt.truncate("1mo") == month)
    alone = _asked_for(pieces, chosen, (*only.chosen.values(), month))
    if not chosen.height and not alone.height:
        named = ", ".join([*only.chosen.values(), *([words.month(month)] if month else [])])
        widgets.answer(QUESTION, "No piece is of this kind.", head)
        widgets.empty(f"Nothing fits all that is chosen: {named}.", f"Set one of the choices to “{ANY}”.")
        st.html('<p class="kl-rules"><a href="pieces" target="_self">Show all pieces</a></p>')
        return
    chosen = pl.concat([alone, chosen])
    shown = st.session_state.get(KEY)
    with place:
        tag = _choose_piece(chosen, pieces)
    if shown and shown not in chosen["piece"]:
        widgets.say(f"{shown} isn't of this kind: {tag} is shown in its place.", quiet=True)
    piece = chosen.filter(pl.col("piece") == tag).row(0, named=True)
    usual = page.book.products().filter(pl.col("product") == piece["product"])
    layers, lines = page.book.piece_layers(tag), page.book.piece_lines(tag)
    known = usual.row(0, named=True) if usual.height else None
    widgets.answer(QUESTION, _sentence(page, piece, known), head)
    _figures(page, piece, known)
    finishing.show(page, piece)
    widgets.advice(_advice(page, piece, lines))
    _picture(page, piece, layers, lines)
    with st.container(gap="xsmall"):
        _layers(page, tag, layers)
        _left(page, piece)
        _others(page, chosen, tag)
        _rules(page, piece)


def _asked_for(pieces: pl.DataFrame, chosen: pl.DataFrame, narrowed: tuple[Any, ...]) -> pl.DataFrame:
    """The piece that the address names, if it isn't among the chosen: it is shown until the choice changes."""
    if KEY not in st.session_state and KEY not in st.query_params and (before := st.session_state.get(BEFORE)):
        st.query_params[KEY] = before  # back from another page: to the piece that was looked at
    wanted = st.query_params.get(KEY)
    before = st.session_state.setdefault("narrowed", narrowed)
    st.session_state["narrowed"] = narrowed
    if not wanted or wanted in chosen["piece"]:
        return pieces.clear()
    if narrowed != before:
        st.query_params.pop(KEY)
        return pieces.clear()
    return pieces.filter(pl.col("piece") == wanted)


def _choose_piece(chosen: pl.DataFrame, pieces: pl.DataFrame) -> str:
    """One of those that fit what is chosen; whoever types the tag of another one finds that too.

    The address alone keeps it: bound to the widget it would stand there as it is said, and could not be taken out.
    """
    tags = [*chosen["piece"], *pieces.filter(~pl.col("piece").is_in(chosen["piece"].implode()))["piece"]]
    finished = chosen.filter(pl.col("status") == "finished", pl.col("labour_cents") > 0)
    start = finished["piece"][0] if finished.height else tags[0]
    wanted = st.query_params.get(KEY)
    tag = str(wanted or start)
    st.session_state[BEFORE] = wanted
    if st.session_state.get(KEY) != tag:
        st.session_state[KEY] = tag
    told = {tag: words.tag(tag, *said) for tag, *said in pieces.select("piece", "product", "species").iter_rows()}
    st.selectbox(
        "Piece (type its tag)",
        tags,
        format_func=lambda tag: told.get(tag, tag),
        key=KEY,
        filter_mode="contains",
        on_change=lambda: links.choose(KEY, st.session_state[KEY]),
    )
    return tag


def _sentence(page: Page, piece: dict[str, Any], usual: dict[str, Any] | None) -> str:
    """What one of it cost, and how far that is from the usual one where enough are known."""
    money = page.money
    many = piece["quantity"] > 1 and piece["unit_cents"] is not None
    cost = f"{money(piece['unit_cents'])} each" if many else money(piece["made_cents"])
    said = f"has cost {cost} so far" if piece["status"] == "in progress" else f"cost {cost}"
    tail = f"{said}{', by what is on record' if _not_all(piece) else _off_usual(page, piece, usual)}."
    return f"{_name(piece, MOST_WORDS - len(tail.split()))} {tail}"


def _not_all(piece: dict[str, Any]) -> bool:
    """Whether something that is in every piece is not in its cost: work, or what it is made of, or a price of it."""
    return bool(piece["without_cost"] or piece["without_material"] or not piece["hours"])


def _name(piece: dict[str, Any], room: int) -> str:
    """The piece with as much of what it is as so many words have room for."""
    product, species = piece["product"], piece["species"]
    named = [piece["piece"]]
    if product:
        named.insert(0, f"{piece['piece']}, {words.article(product)},")
        if species:
            named.insert(0, f"{piece['piece']}, {words.article(product)} in {species},")
    return next((name for name in named if len(name.split()) <= room), named[-1])


def _off_usual(page: Page, piece: dict[str, Any], usual: dict[str, Any] | None) -> str:
    if usual is None or usual["pieces"] < words.FEW or piece["status"] != "finished" or piece["unit_cents"] is None:
        return ""
    off = piece["unit_cents"] - usual["usual_unit_cents"]
    return f", {page.money(abs(off))} {'less' if off < 0 else 'more'} than usual" if off else ", as is usual"


def _beside(page: Page, piece: dict[str, Any], usual: dict[str, Any], each: str) -> str:
    """What is usual for its product: of few pieces the middle without a spread, of one piece nothing but that."""
    money, product = page.money, piece["product"]
    middle = f"{money(usual['usual_unit_cents'])}{each}"
    if usual["pieces"] == 1:
        return (
            f"; no other {product} is finished"
            if piece["status"] == "finished"
            else f"; the one finished {product} cost {middle}"
        )
    if usual["pieces"] < words.FEW:
        return f"; the middle one of {usual['pieces']} finished cost {middle}"
    low, high = money.round(usual["low_unit_cents"]), money.round(usual["high_unit_cents"])
    return f"; usual for a {product} is {middle} (median of {usual['pieces']}, four of five from {low} to {high})"


def _figures(page: Page, piece: dict[str, Any], usual: dict[str, Any] | None) -> None:
    money, wasted = page.money.round, page.money.round(piece["resin_waste_cents"])
    own = f"{_hours_note(piece)}; {money(piece['own_labour_cents'])} of its cost is your own pay"
    widgets.figures(
        [
            ("Cost", page.money(piece["made_cents"]), _cost_note(page, piece, usual), "made_cents", "?layers"),
            ("Hours in it", f"{piece['hours']:,.1f} h", own, "hours"),
            ("Left", *_earned(page, piece)),
            ("Bench pay", *_bench_pay(page, piece), "bench_pay_cents"),
            ("Rework in it", money(piece["rework_cents"]), f"hours and material; resin wasted: {wasted}",
             "rework_cents"),
            ("Rests on records", words.share(piece["logged_share"]), _rest(piece), "logged_share"),
        ],
        page,
    )  # fmt: skip


def _cost_note(page: Page, piece: dict[str, Any], usual: dict[str, Any] | None) -> str:
    """What it is of, how many, and what is usual."""
    each = " each" if piece["quantity"] > 1 else ""
    number = f"{piece['quantity']:,}, {page.money(piece['unit_cents'])} each" if each else ""
    said = ", ".join(part for part in (number, piece["species"], piece["finish"]) if part)
    return f"{said}{_beside(page, piece, usual, each) if usual else ''}".removeprefix("; ")


def _earned(page: Page, piece: dict[str, Any]) -> tuple[str, str, str, str]:
    """What its sales left in all, over which of them, and where they stand; as the month's page has it of all time."""
    found = page.book.piece_earned(piece["piece"])
    if found is None or found["units"] <= 0:
        return words.DASH, "nothing of it is sold", "margin_cents", ""  # a dash is no name for a link
    sold = f"{found['units']:,} of {piece['quantity']:,} sold so far" if piece["quantity"] > 1 else "sold"
    note = f"{sold}, after its cost, your own pay in it, and selling"
    return page.money.round(found["margin_cents"]), note, "margin_cents", "?left"


def _bench_pay(page: Page, piece: dict[str, Any]) -> tuple[str, str]:
    """What an hour of one's own in its sold units paid, and beside what; a dash and why where it can't be said."""
    found = page.book.bench_pay(piece["piece"])
    if not found:
        return words.DASH, "nothing of it is sold"
    pay, usual = found["bench_pay_cents"], found["usual_bench_pay_cents"]
    if pay is None:
        return words.DASH, "too few hours of your own in it"
    of = f", {found['units']} of {piece['quantity']} sold" if found["units"] < piece["quantity"] else ""
    beside = ""
    if found["pieces"] > 1:  # of few the middle one is no usual one
        beside = f"; {'usual' if found['pieces'] >= words.FEW else 'the middle one'} {page.money(usual)}"
        beside += f" (of {found['pieces']})"
    return page.money(pay), f"an hour{of}{beside}"


def _hours_note(piece: dict[str, Any]) -> str:
    rework = f"{piece['rework_hours']:,.1f} h of it rework" if piece["rework_hours"] else "none of it rework"
    # the machine's own time is in its cost, and in nobody's hours
    return f"{rework}; a machine ran {piece['alone_hours']:,.1f} h more alone" if piece["alone_hours"] else rework


def _rest(piece: dict[str, Any]) -> str:
    if piece["without_material"] and piece["made_cents"]:
        return "not told: nothing that it is made of is on record"
    if piece["without_cost"]:
        return f"not told: {words.count(piece['without_cost'], 'thing')} in it without a cost"
    if piece["logged_share"] is None:
        return "no cost yet"
    return f"assumed {words.share(piece['assumed_share'])}, estimated {words.share(piece['estimated_share'])}"


def _picture(page: Page, piece: dict[str, Any], layers: pl.DataFrame, lines: pl.DataFrame) -> None:
    if not layers.height:
        return
    most, told = layers.row(0, named=True), layers["usual_cents"].count() > 0
    first = f"{page.money(most['cents'])} is {words.layer(most['layer'])}"
    title = f"Of {page.money(piece['made_cents'])} in {piece['piece']}, {first}"
    title += f"; a tick marks what is usual for {words.article(piece['product'])}" if told else ""
    alt = f"Bars of the cost of {piece['piece']} by layer: " + ", ".join(
        f"{words.layer(name)} {page.money(cents)}{f', usual {page.money(usual)}' if usual else ''}"
        for name, cents, usual in layers.select("layer", "cents", "usual_cents").iter_rows()
    )
    shown, other = widgets.small_ones(layers, "layer", "cents", "layer")
    few = layers.filter(~pl.col("layer").is_in(shown["layer"].implode()))["layer"].to_list()
    bars = small_bars.gathered(lines, "layer", few) if few else lines
    # what is usual of several layers is no sum of what is usual of each
    shown = shown.with_columns(usual_cents=pl.when(~pl.col("layer").is_in(list(other))).then("usual_cents"))
    chart = sent_chart(anatomy, shown, bars, title, page.money.currency, page.scale, page.look)
    opens = {layer: widgets.behind("layer", piece["piece"], layer) for layer in layers["layer"]} | other
    widgets.picture(chart, alt, f"anatomy-{piece['piece']}", "layer", opens=opens)


def _rules(page: Page, piece: dict[str, Any]) -> None:
    day = piece["finished"] or piece["started"]
    if day and (box := widgets.folded(f"The rules behind its cost, as they were on {words.day(day)}", "rules")):
        with box:
            settings_in_force.show(page, day, "flow", "pay", "overhead", "machine")


def _advice(page: Page, piece: dict[str, Any], lines: pl.DataFrame) -> list[str]:
    said = []
    # what is usual for its product may not be for its finish: what is oiled is never poured
    alike = page.book.operations_with(piece["product"], piece["finish"])
    usual = lines.filter(pl.col("cents") == 0, pl.col("layer") == "labour", pl.col("usual_cents") > 0)
    missing = [operation for operation in usual["operation"] if operation in alike]
    if missing and piece["status"] == "finished":
        said.append(
            f"Usual for such pieces with this finish, but not on record here: {', '.join(missing)}. If it was done, "
            "log its hours."
        )
    if piece["estimated_share"]:
        said.append(_estimated(page, piece))
    if piece["rework_cents"] > 0:
        said.append(
            f"Rework cost {page.money(piece['rework_cents'])} of it: the Rework page shows what tends to come back."
        )
    return said


INSTEAD = {
    "wood": "its slab's tag", "offcut": "its slab's tag", "resin": "a weighed pour", "resin waste": "a weighed pour",
    "labour": "its hours, logged,", "machine": "its hours, logged,", "overhead": "its hours, logged,",
}  # fmt: skip
"""What would stand in place of an estimate, by layer; of all else what was used, or a count of it."""


def _estimated(page: Page, piece: dict[str, Any]) -> str:
    """How much is estimated, in which layers, and the record that would tell."""
    layers = page.book.piece_estimated(piece["piece"])
    said = f"{words.share(piece['estimated_share'])} of its cost is estimated"
    if not layers:
        return f"{said}."
    logged = INSTEAD.get(layers[0], "a record of what it used, or a count of what is still there,")
    return f"{said}, most of it {words.layer(layers[0])}; {logged} would replace the estimate."


def _layers(page: Page, tag: str, layers: pl.DataFrame) -> None:
    if not layers.height:
        return
    if box := widgets.folded(
        f"Its cost layer by layer, with the records: {words.count(layers.height, 'layer')}", "layers"
    ):
        with box:
            columns = [
                Column("layer", "Layer", words.layer),
                Column("cents", "Here", page.money, number=True),
                Column("usual_cents", "Usual", page.money.exact.otherwise("not told"), number=True),
                Column("rework_cents", "Of it rework", page.money, number=True),
                Column("records", "Records", number=True),
            ]
            if not layers["usual_cents"].count():
                columns.pop(2)
            widgets.table(
                page, layers, columns, f"layers-{tag}", 30, leads=lambda row: widgets.behind("layer", tag, row["layer"])
            )


def _left(page: Page, piece: dict[str, Any]) -> None:
    tag = piece["piece"]
    left = page.book.piece_left(tag)
    if not left.height:
        return
    label = f"What was asked for it, found on it, and how it went: {words.count(left.height, 'record')}"
    if box := widgets.folded(label, "left"):
        with box:
            _exits(page, piece, left)


def _exits(page: Page, piece: dict[str, Any], left: pl.DataFrame) -> None:
    tag = piece["piece"]
    if piece["quantity"] > 1:
        gone = page.book.piece_gone(tag)
        widgets.say(
            f"{gone['sold']} of {piece['quantity']} sold for {page.money(gone['cents'])} in all, with shipping, "
            f"without tax; {gone['here'] or 'none'} still there."
        )
    columns = [
        Column("on_date", "Day", words.day),
        Column("what", "What"),
        Column("price_cents", "Price each", page.money, number=True),
        Column("detail", "How"),
        Column("units", "Units", number=True),
        Column("revenue_cents", "Brought", page.money, number=True),
        Column("place", "Where it stands", long=True),
    ]
    widgets.table(page, left, columns, f"left-{tag}", leads=lambda row: widgets.behind("row", row["row_id"]))


def dotted(known: pl.DataFrame, tag: str) -> pl.DataFrame:
    """Of pieces, the latest first, those that get a dot: the piece itself and the latest others."""
    return pl.concat([known.filter(piece=tag), known.filter(pl.col("piece") != tag).head(MOST_DOTS)])


def _others(page: Page, chosen: pl.DataFrame, tag: str) -> None:
    label = f"Beside the others: {words.count(chosen.height, 'piece')} by what one cost, and all of them to sort"
    if box := widgets.folded(label, "others"):
        with box:
            _all(page, chosen, tag)


def _all(page: Page, chosen: pl.DataFrame, tag: str) -> None:
    known = chosen.filter(pl.col("product").is_not_null())
    dots = dotted(known, tag)
    whole = words.count(chosen.height, "piece")
    shown = whole if dots.height == known.height else f"The newest {dots.height:,} of {whole}"
    chart = sent_chart(
        spread,
        dots.select("piece", "product", "species", "finish", "unit_cents"),
        f"{shown} by what one of each cost{f'; {tag} stands out' if dots.height > 1 else ''}",
        f"{page.money.currency} each",
        page.scale,
        tag,
        page.look,
    )
    alt = f"A dot a piece, by product and unit cost: {shown}. A click on one opens it; the table below holds the same."
    widgets.picture(chart, alt, "spread", "piece", chooses="piece")
    columns = [
        Column("piece", "Piece", opens="pieces?piece"),
        Column("product", "Product"),
        Column("species", "Species"),
        Column("finish", "Finish"),
        Column("status", "Status"),
        Column("finished", "Finished", words.day),
        Column("quantity", "Number", number=True),
        Column("hours", "Hours", words.decimal(1), number=True),
        Column("made_cents", "Cost", page.money, number=True),
        Column("unit_cents", "Each", page.money, number=True),
        Column("rework_cents", "Rework", page.money, number=True),
        Column("logged_share", "Logged", words.share, number=True),
    ]
    widgets.table(page, chosen, columns, "pieces", shown=10)
