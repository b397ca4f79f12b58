-- A pour mixed off its ratio: it may never cure hard. The product's data sheet decides.
-- @severity warning
select pour, on_date, mix_ratio_share from material.pour where off_ratio
