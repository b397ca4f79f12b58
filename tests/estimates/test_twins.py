"""A bank's lines over a year, and which records they pay: invented shops, whose truth is known."""

from random import Random

import pytest
from bank_files import Bank, Links, draw_bank

from pipeline.estimates.twins import twins

SHOPS = 40


@pytest.fixture(scope="module")
def links() -> Links:
    counted = Links()
    for seed in range(SHOPS):
        bank = draw_bank(Random(seed))
        counted.add(bank, twins(bank.tables()))
    return counted


def test_fewer_than_one_link_in_a_thousand_is_wrong_without_a_question(links: Links) -> None:
    assert links.sure > 5000
    assert 1000 * links.other_money < links.sure


def test_few_are_asked_about(links: Links) -> None:
    assert 20 * (links.asked + links.none) < links.lines


def test_cash_is_exact_where_there_is_no_question(links: Links) -> None:
    assert len(links.off) > SHOPS // 10
    assert set(links.off) == {0}


def test_what_is_counted_as_wrong_is(links: Links) -> None:
    """The measure itself: a bank whose truth is turned round is wrong wherever it was right."""
    bank = draw_bank(Random(1))
    right, wrong = Links(), Links()
    right.add(bank, twins(bank.tables()))
    lines = list(bank.pays)
    turned = dict(zip(lines, [bank.pays[n] for n in lines[1:] + lines[:1]], strict=True))
    wrong.add(Bank(bank.expected, bank.payments, turned), twins(bank.tables()))
    assert right.other_money == 0
    assert wrong.other_money > wrong.sure // 2
