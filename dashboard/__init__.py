"""The dashboard: pages over a published database."""

SHOP_VARIABLE = "KERFLEDGER_SHOP"
"""The environment variable that names the shop folder."""
