-- Whole-number arithmetic that every model shares. `cut` is the first k of w parts of n, rounded
-- half up and symmetric in the sign, so that shares taken as differences of running cuts always add
-- up to n. Sizes of a usual shop go through BIGINT, where the product stays below 2 ** 63: division
-- in HUGEINT takes twelve times as long.
create macro cut(n, k, w) as case
    when n between -2000000000 and 2000000000
            and k between 0 and 2000000000 and w between 1 and 2000000000
        then sign(n) * (
            (2 * cast(abs(n) as bigint) * cast(k as bigint) + cast(w as bigint))
            // (2 * cast(w as bigint))
        )
    when n < 0
        then cast(-((2 * cast(-n as hugeint) * k + w) // (2 * cast(w as hugeint))) as bigint)
    else cast((2 * cast(n as hugeint) * k + w) // (2 * cast(w as hugeint)) as bigint) end;

-- What lies between two running cuts of n: its share from one part to another, of w parts in all.
create macro share(n, from_k, to_k, w) as cut(n, to_k, w) - cut(n, from_k, w);

-- The id of a draw on stock, from the row that causes it and which of the row's draws it is: 0
-- itself, 1 a pour's colourant, 2 what a count found short, 3 a lot sold or lost as such, 4 what a
-- count found again, 5 and 6 the same of kits whose size is not known, from 8 on a month's part. And
-- the row, from the id.
create macro draw_id(row_id, part) as row_id * 4096 + part;
create macro row_of_draw(id) as id // 4096;

-- Lots of an item that can't be told in the unit it is kept in take turns apart, as so many things;
-- the flow they take them in, and the item that a flow is of.
create macro unmeasured_flow(item) as 'unmeasured/' || item;
create macro item_of(flow) as case
    when starts_with(flow, 'unmeasured/') then substr(flow, 12) else flow end;

-- The draw of what a count found short, and of what it found again: one count may be of both flows
-- of its item.
create macro short_id(row_id, flow) as draw_id(
    row_id, case when starts_with(flow, 'unmeasured/') then 5 else 2 end
);
create macro again_id(row_id, flow) as draw_id(
    row_id, case when starts_with(flow, 'unmeasured/') then 6 else 4 end
);

-- A quantity in an item's base unit; null where the two units can't be turned into each other.
-- Volumes and weights meet by density (micrograms in a microlitre), kits hold a known volume or
-- weight of mix: one of what can't be poured by the piece is one kit, also as `each`.
create macro in_base(quantity, unit, base, density, kit_ul, kit_mg := null) as cast(case
    when unit = base then quantity
    when unit in ('kit', 'each') and base in ('ul', 'mm3') then coalesce(
        cut(quantity, kit_ul, 1000), cut(quantity, kit_mg, density)
    )
    when unit in ('kit', 'each') and base = 'mg' then coalesce(
        cut(quantity, kit_mg, 1000),
        cut(quantity, cast(kit_ul as hugeint) * density, 1000000)
    )
    when unit = 'ul' and base = 'mg' then cut(quantity, density, 1000)
    when unit = 'mg' and base = 'ul' then cut(quantity, 1000, density)
    when unit = 'ul' and base = 'mm3' then quantity
    when unit = 'mm3' and base = 'ul' then quantity
    when unit = 'mm3' and base = 'mg' then cut(quantity, density, 1000)
    end as bigint);

-- Volume of a block or, where a diameter is given, of a disc, from micrometres to cubic
-- millimetres; none beyond a hundred cubic metres, which is no piece of wood but a slip, and would
-- not fit when a run of them is added up.
create macro volume_mm3(length_um, width_um, thickness_um, diameter_um) as cast(nullif(least(case
    when diameter_um is not null
        then cast(diameter_um as hugeint) * diameter_um // 1000000 * thickness_um // 1000
            * 785398163 // 1000000000
    else cast(length_um as hugeint) * width_um // 1000000 * thickness_um // 1000
    end, 100000000001), 100000000001) as bigint);

-- Whole surface of a block or disc in square millimetres.
create macro area_mm2(length_um, width_um, thickness_um, diameter_um) as cast(case
    when diameter_um is not null
        then cast(diameter_um as hugeint) * (diameter_um + 2 * coalesce(thickness_um, 0))
            * 1570796327 // 1000000000 // 1000000
    else 2 * (cast(length_um as hugeint) * width_um
              + cast(length_um as hugeint) * coalesce(thickness_um, 0)
              + cast(width_um as hugeint) * coalesce(thickness_um, 0)) // 1000000 end as bigint);

create macro month_of(day) as cast(date_trunc('month', day) as date);

-- What a movement of the trace adds to the cost of its piece, less what was saved from it; null
-- where it is none of that. What left comes back when a unit does, and is no cost anew; spoilage
-- that a good piece takes over is a cost, while the layers of a scrapped one are handed on.
create macro into_piece(from_place, to_place, layer, item, cents) as case
    when from_place in ('sold', 'own use', 'period', 'waste') then null
    when to_place in ('sold', 'own use', 'period', 'waste') then null
    when 'pool' in (from_place, to_place) and item = 'spoilage' and layer <> 'spoilage' then null
    when to_place = 'piece' then cents
    when from_place = 'piece' then -cents end;

-- The whole number next to a number with a point; null where it is none, or beyond what a whole
-- number holds.
create macro whole(amount) as try_cast(round(amount) as bigint);

-- A rate as a whole number of thousandths of a minor unit: as fine as settings keep it.
create macro thousandths(rate_cents) as whole(1000 * rate_cents);

-- The day so many months after another.
create macro months_later(day, months) as cast(day + to_months(cast(months as integer)) as date);

-- The middle of a narrow group drawn to that of the wider one, which counts as so many of its
-- pieces; the one that there is where the other is unknown.
create macro drawn_to(narrow, pieces, wide, counts_as) as case
    when narrow is null then wide
    when wide is null then narrow
    else (cast(pieces as hugeint) * narrow + cast(counts_as as hugeint) * wide)
        // (pieces + counts_as) end;

-- How much a figure takes before it is told: `pipeline/enough.py` has the same numbers, with why.
create macro few() as 5;
create macro few_months() as 3;
create macro least_seconds(of) as cast(case of
    when 'a month' then 14400 when 'a market day' then 3600 when 'a piece' then 900
end as bigint);

-- Cents for an hour, where there are seconds enough for what they are of: half a bench day, one hour at a stall, a
-- quarter of an hour on a piece (common practice, no source). Three minutes would make twenty times a sum of them, of
-- hours that are told to the minute.
create macro for_an_hour(cents, seconds, of) as case
    when seconds >= least_seconds(of) then cut(cents, 3600, seconds)
end;

-- What is usual, where it is anything and enough pieces tell it.
create macro usual_told(cents, pieces) as case when pieces >= few() and cents > 0 then cents end;

-- The line of its month's result that cents belong to which reached this place in this group of layers.
create macro result_line(place, cost_group) as case
    when place = 'waste' then 'losses'
    when cost_group = 'selling' then 'selling'
    when place = 'sold' then 'cost of sales'
    when cost_group = 'labour' then 'other hours'
    when cost_group in ('overhead', 'machine') then 'not absorbed'
    else 'other costs' end;
