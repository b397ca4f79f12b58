"""The core of the books as a good analyst would write it in pandas: landed cost, FIFO, cost a piece.

Written before it was ever timed, and only then compared. It is whole columns wherever pandas has a way: shares by
`groupby().transform`, rates by `merge_asof`, lists by `explode`. FIFO alone is the usual loop over a queue of lots, on
plain lists taken out of the frames. It starts from cleaned records and leaves out what the tool does besides (counts,
late receipts, machines, overhead, spoilage, sales, rounding that adds up), so it has the lighter task.
"""

from collections import deque

import numpy as np
import pandas as pd

Frames = dict[str, pd.DataFrame]

STOCK = ("wood", "resin", "colourant", "abrasive", "finish", "hardware", "consumable")


def cost_per_piece(records: Frames) -> pd.DataFrame:
    """One row a piece: `piece`, `labour`, `material`, `cost`, in cents. `records`: the tables `records.*` and
    the settings `person_rate` and `item`, by their bare names, numbers as pandas reads them (a gap makes floats)."""
    lots = landed(records["purchases"], records["item"])
    draws = pd.concat([logged_use(records), poured(records), blanks(records)], ignore_index=True)
    used = fifo(lots, draws)
    material = used.explode("pieces").dropna(subset=["pieces"])
    material["cents"] /= material.groupby(level=0)["cents"].transform("size")
    by_piece = pd.DataFrame(
        {
            "labour": labour(records).groupby("piece")["cents"].sum(),
            "material": material.groupby("pieces")["cents"].sum(),
        }
    )
    by_piece = by_piece.reindex(records["pieces"]["piece"].drop_duplicates()).fillna(0.0)
    by_piece["cost"] = by_piece["labour"] + by_piece["material"]
    return by_piece.rename_axis("piece").reset_index()


def landed(purchases: pd.DataFrame, items: pd.DataFrame) -> pd.DataFrame:
    """The lots, with freight and tax less discount spread over each receipt's positive lines by amount."""
    lines = purchases.sort_values("on_date", kind="stable").copy()
    lines["receipt"] = lines["receipt"].fillna("row " + lines["row_id"].astype(str))
    positive = lines["amount_cents"].clip(lower=0)
    whole = positive.groupby(lines["receipt"]).transform("sum")
    extra = lines[["freight_cents", "tax_cents"]].fillna(0).sum(axis=1) - lines["discount_cents"].fillna(0)
    extra = extra.groupby(lines["receipt"]).transform("sum")
    lines["cents"] = lines["amount_cents"] + (extra * positive / whole.where(whole > 0)).fillna(0)
    lines = lines[lines["category"].isin(STOCK) & (lines["amount_cents"] > 0)]
    sides = lines[["length_um", "width_um", "thickness_um"]].prod(axis=1, skipna=False)
    round_end = np.pi / 4 * lines["diameter_um"] ** 2 * lines["thickness_um"]
    volume = sides.fillna(round_end) / 1e9 * lines["count"].fillna(1)
    kit = lines["item"].map(kit_mg(items))
    quantity = lines["quantity"].where(lines["quantity_unit"] != "kit", lines["quantity"] / 1000 * kit)
    wood = lines["category"] == "wood"
    lines["quantity"] = quantity.where(~wood, quantity.fillna(volume)).fillna(1.0)
    lines["flow"] = lines["lot"].where(wood & lines["lot"].notna(), lines["species"].where(wood, lines["item"]))
    return lines[["flow", "on_date", "quantity", "cents"]]


def kit_mg(items: pd.DataFrame) -> pd.Series:
    """Weight of an item's kit."""
    latest = items.drop_duplicates("name", keep="last").set_index("name")
    return latest["kit_ul"] * latest["density_ug_per_ul"] / 1000


def logged_use(records: Frames) -> pd.DataFrame:
    usage = records["usage"]
    return pd.DataFrame(
        {"flow": usage["item"], "on_date": usage["on_date"], "quantity": usage["quantity"], "pieces": usage["pieces"]}
    )


def poured(records: Frames) -> pd.DataFrame:
    """Each pour's resin in milligrams, on the pieces that it went to."""
    pours = records["pours"]
    item = records["item"].drop_duplicates("name", keep="last").set_index("name")

    def weight(part: str) -> pd.Series:
        density = pours["resin"].map(item[f"density_{part[-1]}_ug_per_ul"]) / 1000
        return pours[part].where(pours[f"{part}_unit"] == "mg", pours[part] * density).fillna(0)

    mixed = pours.assign(quantity=weight("part_a") + weight("part_b"))
    grouped = mixed.groupby("pour", sort=False)
    return pd.DataFrame(
        {
            "flow": grouped["resin"].first(),
            "on_date": grouped["on_date"].min(),
            "quantity": grouped["quantity"].sum(),
            "pieces": grouped["piece"].agg(list),
        }
    ).reset_index(drop=True)


def blanks(records: Frames) -> pd.DataFrame:
    """Each piece's blank, else its finished size, drawn from its lot, else from its species."""
    pieces = records["pieces"]
    size = ["length", "width", "thickness"]
    blank = pieces[[f"blank_{side}_um" for side in size]].prod(axis=1, skipna=False)
    finished = pieces[[f"{side}_um" for side in size]].prod(axis=1, skipna=False)
    volume = blank.fillna(finished) / 1e9 * pieces["quantity"]
    drawn = pd.DataFrame(
        {
            "flow": pieces["lot"].fillna(pieces["species"]),
            "on_date": pieces["started"].fillna(pieces["finished"]),
            "quantity": volume,
            "pieces": pieces["piece"],
        }
    )
    return drawn.dropna(subset=["flow", "quantity", "on_date"])


def fifo(lots: pd.DataFrame, draws: pd.DataFrame) -> pd.DataFrame:
    """The draws with their `cents`, first in, first out within each flow; what is short costs as the last unit did."""
    draws = draws.sort_values("on_date", kind="stable").reset_index(drop=True)
    cents = np.zeros(len(draws))
    bought = dict(iter(lots.groupby("flow", sort=False)))
    for flow, drawn in draws.groupby("flow", sort=False):
        if flow not in bought:
            continue
        supply = bought[flow]
        columns = (supply["on_date"].tolist(), supply["quantity"].tolist(), supply["cents"].tolist())
        waiting = deque(zip(*columns, strict=True))
        shelf: deque[list[float]] = deque()
        unit = waiting[0][2] / waiting[0][1]
        rows = zip(drawn.index.tolist(), drawn["on_date"].tolist(), drawn["quantity"].tolist(), strict=True)
        for row, day, wanted in rows:
            while waiting and waiting[0][0] <= day:
                _, quantity, paid = waiting.popleft()
                shelf.append([quantity, paid / quantity])
            total = 0.0
            while wanted > 0 and shelf:
                lot = shelf[0]
                unit = lot[1]
                taken = min(wanted, lot[0])
                total += taken * unit
                wanted -= taken
                lot[0] -= taken
                if lot[0] <= 0:
                    shelf.popleft()
            cents[row] = total + max(wanted, 0.0) * unit
    return draws.assign(cents=cents)


def labour(records: Frames) -> pd.DataFrame:
    """Each hours row at its person's rate of that day, shared over its pieces by top surface for sanding and finishing,
    by volume for sawing and surfacing, equally for the rest."""
    hours = records["hours"].dropna(subset=["on_date"]).sort_values("on_date", kind="stable")
    rates = records["person_rate"].sort_values("from_date", kind="stable")
    owner = rates["name"].iloc[0]
    hours = hours.assign(person=hours["person"].fillna(owner))
    hours = hours[hours["attended"].fillna(True).astype(bool)]
    rates = rates[["name", "from_date", "rate_cents"]]
    hours = pd.merge_asof(hours, rates, left_on="on_date", right_on="from_date", left_by="person", right_by="name")
    hours["cents"] = hours["seconds"] * hours["rate_cents"] / 3600
    shared = hours[["row_id", "operation", "cents"]].merge(records["hours_piece"], on="row_id")
    pieces = records["pieces"].drop_duplicates("piece").set_index("piece")
    area = pieces["length_um"] * pieces["width_um"] / 1e6
    volume = area * pieces["thickness_um"] / 1e3
    weight = pd.Series(1.0, index=shared.index)
    by_area, by_volume = (
        shared["operation"].isin(["sanding", "finishing"]),
        shared["operation"].isin(["sawing", "surfacing"]),
    )
    weight = weight.mask(by_area, shared["piece"].map(area)).mask(by_volume, shared["piece"].map(volume)).fillna(1.0)
    shared["cents"] *= weight / weight.groupby(shared["row_id"]).transform("sum")
    return shared
