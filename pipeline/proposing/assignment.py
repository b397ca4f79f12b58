"""The best way to give columns to fields, all at once, and how sure each pair of it is.

Each column takes one field or none, each field one column at most. `best` finds the exact best sum of weights (the
Hungarian way, a shortest path a column); `shares` says of each column how likely each of its fields is beside the
others, where another column may have to give way.
"""

from collections.abc import Mapping, Sequence
from math import exp, inf

Weights = Sequence[Mapping[str, float]]
"""Of each column: field → its weight, "" = no field."""

MOST_COLUMNS = 80
"""So many columns at most are weighed together, those with the most to say; a table of a shop has not as many."""


def best(weights: Weights) -> list[str]:
    """The field of each column ("" = none) by which the weights add up to the most."""
    open_ = _with_most_to_say(weights)
    fields = sorted({field for at in open_ for field in weights[at] if field})
    found = [""] * len(weights)
    if not fields:
        return found
    costs = [
        [row.get("", 0.0) - row.get(field, -inf) for field in fields] + [0.0] * len(open_)
        for row in (weights[at] for at in open_)
    ]
    for at, place in zip(open_, _cheapest(costs), strict=True):
        found[at] = fields[place] if place < len(fields) else ""
    return found


def _with_most_to_say(weights: Weights) -> list[int]:
    """The columns for which some field weighs more than none, those that weigh the most first."""
    open_ = [at for at, row in enumerate(weights) if any(field and w > row.get("", 0.0) for field, w in row.items())]
    return sorted(open_, key=lambda at: -max(weights[at].values()))[:MOST_COLUMNS]


def _cheapest(costs: list[list[float]]) -> list[int]:
    """The column of each row of a matrix, each taken once, by which the costs add up to the least."""
    height, width = len(costs), len(costs[0])
    of_row, of_column = [0.0] * (height + 1), [0.0] * (width + 1)
    holder, came_by = [0] * (width + 1), [0] * (width + 1)
    for row in range(1, height + 1):
        holder[0], at = row, 0
        least, seen = [inf] * (width + 1), [False] * (width + 1)
        while holder[at]:
            seen[at] = True
            own, step, following = holder[at], inf, 0
            line, base = costs[own - 1], of_row[own]
            for column in range(1, width + 1):
                if seen[column]:
                    continue
                slack = line[column - 1] - base - of_column[column]
                if slack < least[column]:
                    least[column], came_by[column] = slack, at
                if least[column] < step:
                    step, following = least[column], column
            for column in range(width + 1):
                if seen[column]:
                    of_row[holder[column]] += step
                    of_column[column] -= step
                else:
                    least[column] -= step
            at = following
        while at:
            holder[at], at = holder[came_by[at]], came_by[at]
    found = [0] * height
    for column in range(1, width + 1):
        if holder[column]:
            found[holder[column] - 1] = column - 1
    return found


def total(weights: Weights, chosen: Sequence[str]) -> float:
    """What the weights add up to."""
    return sum(row.get(field, 0.0) for row, field in zip(weights, chosen, strict=True))


def shares(weights: Weights, chosen: Sequence[str], warmth: float) -> list[dict[str, float]]:
    """Of each column: field → how likely it is, by what the best sum loses where the column has this field.

    `chosen` is the best way, as `best` gives it.
    """
    steps = _ways(weights, chosen)
    found = []
    for own, row in zip(chosen, weights, strict=True):
        losses = {
            field: 0.0 if field == own else row.get(own, 0.0) - row.get(field, 0.0) + steps.get((field, own), 0.0)
            for field in {"", own, *row}
        }
        odds = {field: exp(-min(loss, 50.0) / warmth) for field, loss in losses.items()}
        whole = sum(odds.values())
        found.append({field: value / whole for field, value in odds.items()})
    return found


def _ways(weights: Weights, chosen: Sequence[str]) -> dict[tuple[str, str], float]:
    """From each field to each other ("" = none): what the best sum loses where the first is taken from who has it, and
    the other is there to be had. It may be less than nothing: others may be better off with the other.

    Who has to give way takes another field, whose column gives way in turn, or goes without; so the losses are those of
    the shortest ways through the fields, each step of which is the column that loses least by it.
    """
    weighed = _with_most_to_say(weights)
    fields = ["", *sorted({field for at in weighed for field in weights[at] if field} | {*chosen} - {""})]
    held = {*chosen}
    # a field that nobody has is taken from nobody, and whoever has one may go without
    ways = {(one, other): 0.0 if other == "" and one not in held else inf for one in fields for other in fields}
    ways |= {("", field): 0.0 for field in held} | {(field, field): 0.0 for field in fields}
    for at in weighed:
        own, row = chosen[at], weights[at]
        for field in fields:
            if field == "" or field in row:
                loss = row.get(own, 0.0) - row.get(field, 0.0)
                ways[own, field] = min(ways[own, field], loss)
    for through in fields:
        for one in fields:
            first = ways[one, through]
            if first == inf:
                continue
            for other in fields:
                if first + ways[through, other] < ways[one, other]:
                    ways[one, other] = first + ways[through, other]
    return ways
