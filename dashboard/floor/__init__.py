"""The shop floor's server: the Log alone, for paired phones on the maker's own network.

What it may reach is in `reach.py`, who is answered in `app.py`, what is done in `work.py`.
"""
