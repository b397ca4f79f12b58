"""The dashboard: pages over a published database."""

SHOP_VARIABLE = "KERFLEDGER_SHOP"
"""The environment variable that names the shop folder."""

FLOOR_VARIABLE, OWN_VARIABLE = "KERFLEDGER_SHOP_FLOOR", "KERFLEDGER_CERTIFICATE"
"""Those that say where the shop floor is served, if it is, and by which certificate of the maker's own."""
