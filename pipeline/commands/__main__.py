"""`python -m pipeline.commands` is `kerfledger`."""

import sys

from pipeline.commands import main

sys.exit(main())
