"""From a maker's files to the published database. `refresh.py` tells the story."""
