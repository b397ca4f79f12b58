"""From a maker's files to the published database. `refresh.py` tells the story."""

import os

# matrices here have some twenty rows: a second BLAS thread only waits for the first. Read when numpy is loaded
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
