"""The price of the next piece: the request, what it needs of the database, the market (`quote.py`); saved quotes.

Nothing is imported here: every process that reads files reads saved quotes, and needs no predictor for it.
"""
