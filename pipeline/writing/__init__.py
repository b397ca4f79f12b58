"""What the tool writes: files put down whole or not at all (`whole.py`), cells safe in a sheet (`formula_guard.py`)."""
