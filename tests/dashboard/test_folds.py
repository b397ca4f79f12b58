"""What a page folds away: small bars as one, more advice than one reads, and what a link, a mark or a tile opens."""

import re

import polars as pl
from streamlit.testing.v1 import AppTest

from dashboard.charts import small_bars
from tests.dashboard.conftest import html

STEPS = pl.DataFrame(
    {
        "step": ["bought", "spilled", "cups", "found", "in pieces"],
        "amount": [100.0, -3.0, -20.0, 1.0, 78.0],
        "total": [False, False, False, False, True],
    }
)
DEFECTS = pl.DataFrame(
    {
        "defect": ["bubble", "bubble", "dent", "dust", "dent"],
        "action": ["rework", "scrap", "accept", "accept", "rework"],
        "cents": [700, 300, 9, 8, 30],
    }
)


def test_small_bars_are_one_that_holds_their_sum_where_the_last_of_them_stood() -> None:
    few = small_bars.small(STEPS, "step", "amount")
    assert few == ["spilled", "found"]
    together = small_bars.gathered(STEPS, "step", few)
    assert together.rows() == [
        ("bought", 100.0, False),
        ("cups", -20.0, False),
        ("Other, 2 small", -2.0, False),
        ("in pieces", 78.0, True),
    ]


def test_a_bar_is_small_by_all_of_its_parts_and_their_kinds_stay_apart() -> None:
    few = small_bars.small(DEFECTS, "defect", "cents")
    assert few == ["dent", "dust"]
    together = small_bars.gathered(DEFECTS, "defect", few)
    assert together["cents"].sum() == DEFECTS["cents"].sum()
    assert together.filter(pl.col("defect") == "Other, 2 small").sort("action").rows() == [
        ("Other, 2 small", "accept", 17),
        ("Other, 2 small", "rework", 30),
    ]


def test_one_small_bar_alone_keeps_its_name_and_nothing_is_small_beside_nothing() -> None:
    assert small_bars.small(STEPS.filter(pl.col("step") != "found"), "step", "amount") == []
    assert small_bars.small(STEPS.with_columns(amount=pl.lit(0.0)), "step", "amount") == []
    assert small_bars.small(STEPS.head(0), "step", "amount") == []


def bars() -> None:
    from dashboard import widgets
    from dashboard.links import follow, run_scripts
    from tests.dashboard.test_folds import STEPS

    run_scripts()
    shown, leads = widgets.small_ones(STEPS, "step", "amount", "way")
    widgets.say(", ".join(shown["step"]))
    import streamlit as st

    for name, lead in leads.items():
        st.button(name, on_click=follow, args=(lead,))


def test_the_one_bar_opens_to_its_members_by_a_mark_and_by_a_choice() -> None:
    for way in ("mark", "choice", "address"):
        test = AppTest.from_function(bars, default_timeout=60)
        if way == "address":
            test.query_params["each-way"] = "true"
        test.run()
        if way != "address":
            assert "bought, cups, Other, 2 small, in pieces" in html(test)
        if way == "mark":
            test.button[0].click().run()
        if way == "choice":
            test.toggle[0].set_value(True).run()
        assert not test.exception
        assert "bought, spilled, cups, found, in pieces" in html(test), way
        test.toggle[0].set_value(False).run()
        assert "bought, cups, Other, 2 small, in pieces" in html(test)


def folds() -> None:
    import streamlit as st

    from dashboard import widgets
    from dashboard.links import follow

    widgets.figures([("Dearest", "dust", "on 2 pieces", "", "?defects")])
    widgets.advice([f"Do {number}." for number in range(5)])
    if box := widgets.folded("Which defects cost most", "defects", "defect"):
        with box:
            defect = widgets.choose("Defect", "defect", [widgets.ANY, "dust", "dent"])
            widgets.say(f"all of {defect}")
    for name in ("dust", "dent"):
        st.button(name, on_click=follow, args=(("?defect", name),))


def test_three_lines_of_advice_are_seen_and_the_rest_is_folded() -> None:
    test = AppTest.from_function(folds, default_timeout=60).run()
    said = html(test)
    assert re.findall(r"<li>(.*?)</li>", said) == ["Do 0.", "Do 1.", "Do 2."]
    assert "2 more to do" in [box.label for box in test.expander]
    test.query_params["more-to-do"] = "true"
    assert re.findall(r"<li>(.*?)</li>", html(test.run()))[-2:] == ["Do 3.", "Do 4."]


def closed(test: AppTest) -> None:
    """The fold as a browser closes it: it takes it out of the address as well."""
    test.session_state["defects"] = False
    if "defects" in test.query_params:
        del test.query_params["defects"]
    assert "all of" not in html(test.run())


def test_a_fold_is_opened_by_what_is_chosen_in_it_and_closed_by_hand_it_stays_so() -> None:
    test = AppTest.from_function(folds, default_timeout=60)
    test.query_params["defect"] = "dust"
    assert "all of dust" in html(test.run())
    closed(test)
    assert "all of dust" not in html(test.run())
    for name in ("dent", "dent", "dust"):  # the same mark again too
        button = next(button for button in test.button if button.label == name)
        assert f"all of {name}" in html(button.click().run())
        closed(test)
        assert "all of" not in html(test.run())


def test_a_figure_leads_to_its_fold_and_keeps_what_is_chosen() -> None:
    test = AppTest.from_function(folds, default_timeout=60)
    test.query_params["species"] = "elm"
    assert 'href="?species=elm&amp;defects=true#defects"' in html(test.run())
