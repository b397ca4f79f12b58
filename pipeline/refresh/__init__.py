"""From files to a new published database: `refresh.py` tells the story."""
