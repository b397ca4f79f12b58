"""How many of a hundred such proposals are right: what the weighing says, set right by piles whose truth is known."""


def right_of_such(share: float) -> float:
    """The share of right ones among proposals that the weighing gives this share."""
    return share
