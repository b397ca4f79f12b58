"""How far costs of incomplete shops are off, and how true their labels are. Run: bench_incomplete.py [seeds, 1].

Each trade of tests/estimates/incomplete_shops.py, whole and with rows lost. A piece's error should stay within its
unlogged share and two points for 95 % of pieces, the median error below 1.5 %, the sum within 1 %.

Prints figures against their targets and asserts nothing.
"""

import sys
import tempfile
from pathlib import Path

sys.path.extend(str(Path(__file__).parents[1] / area) for area in ("estimates", "oracle"))

from incomplete_shops import TRADES, Loss, costs, score, whole_shop, with_losses

LOSSES = {"nothing": Loss(0, 0, 0, 0, 0), "a tenth": Loss(), "a quarter": Loss(0.25, 0.15, 0.25, 0.25, 0.25)}


def main() -> None:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    print(
        f"{'trade':<26}{'lost':<11}{'within':>8}{'median':>8}{'sum':>8}{'whole':>7}{'off':>5}{'worst':>7}{'unlogged':>10}{'untold':>8}"
    )
    for trade in TRADES:
        for seed in range(seeds):
            shop = whole_shop(trade, seed)
            true = _costs(shop)
            for lost, loss in LOSSES.items():
                got = score(true, _costs(with_losses(shop, loss, seed + 1000)))
                print(
                    f"{trade.name:<26}{lost:<11}{got.within:>8.1%}{got.median:>8.2%}{got.bias:>+8.2%}"
                    f"{got.labelled_whole:>7}{got.whole_but_off:>5}{got.worst:>7.1%}{got.unlogged:>10.1%}"
                    f"{got.untold:>8}",
                    flush=True,
                )


def _costs(shop):
    with tempfile.TemporaryDirectory() as folder:
        return costs(shop, Path(folder))


if __name__ == "__main__":
    main()
