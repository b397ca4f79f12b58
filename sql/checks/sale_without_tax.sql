-- Sales for which no file states a tax and no rate is set, in a regime that has one; by channel. Say
-- that the channel's prices hold it, or at which rate it is reckoned; what is owed is for your tax
-- office to say.
-- @severity warning
select * from money.untaxed
