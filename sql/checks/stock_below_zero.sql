-- A month at whose end a stage of the stock holds less than nothing: more went back, or was taken
-- off it, than it ever cost.
-- @severity warning
select month, stage, closing_cents from money.stock_month where closing_cents < 0
