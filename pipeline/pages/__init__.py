"""What a page may do (`actions.py`), and what it writes: the day's log, the inbox."""
