"""Many logistic fits at once: pieces added up to cells, and Laplace's approximation under Normal priors."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, wraps
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.special import expit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """Pieces added up to the distinct combinations of levels.

    `codes` has one row a cell and one column a factor (the group itself first); `levels` the labels behind the codes.
    """

    events: Floats
    pieces: Floats
    codes: Ints
    levels: tuple[NDArray[np.object_], ...]

    @property
    def sizes(self) -> tuple[int, ...]:
        return tuple(len(level) for level in self.levels)

    def fewer(self, tries: float) -> "Cells":
        """The same rates of a `tries`-th of the pieces."""
        return Cells(self.events / tries, self.pieces / tries, self.codes, self.levels)

    def alone(self) -> "Cells":
        """The first factor without the others."""
        return Cells(self.events, self.pieces, self.codes[:, :1], self.levels[:1])


class _Numbers:
    """Cells that are equal to others of the same numbers, whatever their labels."""

    def __init__(self, cells: Cells) -> None:
        self.cells = cells
        self.key = cells.codes.tobytes(), cells.pieces.tobytes(), cells.events.tobytes(), cells.sizes

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Numbers) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


Found = TypeVar("Found")
FEW_CELLS, KEPT_OF = 40, 200


def once(work: Callable[..., Found]) -> Callable[..., Found]:
    """Work that looks at the numbers of cells (and some more), not at their labels: of equal ones it is done once.

    In a small shop most factors divide its pieces alike, and most measures count nothing. What was found is kept of few
    cells alone, of the last ones; nobody may change it.
    """
    known = lru_cache(KEPT_OF)(lambda numbers, *more: work(numbers.cells, *more))

    @wraps(work)
    def found(cells: Cells, *more: float) -> Found:
        return known(_Numbers(cells), *more) if len(cells.codes) <= FEW_CELLS else work(cells, *more)

    return found


@dataclass(frozen=True)
class Fits:
    """Laplace fits, one a row: mode (g, d), information there (g, d, d), log marginal likelihood (g,).

    Columns 1 to `own` are the first factor's. A piece has one level of it, so that block of the information is diagonal
    and only the rest needs inverting: with many levels that is most of the work saved.
    """

    mode: Floats
    information: Floats
    log_likelihood: Floats
    own: int

    def chosen(self, which: NDArray[np.bool_] | Ints) -> "Fits":
        return Fits(self.mode[which], self.information[which], self.log_likelihood[which], self.own)

    def joined(self, other: "Fits") -> "Fits":
        mode = np.concatenate([self.mode, other.mode])
        information = np.concatenate([self.information, other.information])
        return Fits(mode, information, np.concatenate([self.log_likelihood, other.log_likelihood]), self.own)

    def covariance(self) -> Floats:
        """Inverse of the information (g, d, d). Asked for where wanted: most fits of a grid come to nothing."""
        own, rest = _columns(self.information.shape[1], self.own)
        across, diagonal, remainder = _parts(self.information, self.own)
        inner = np.linalg.inv(remainder)
        scaled = across / diagonal[:, None, :]
        mixed = -inner @ scaled
        whole = np.empty_like(self.information)
        whole[:, rest[:, None], rest] = inner
        whole[:, rest[:, None], own] = mixed
        whole[:, own[:, None], rest] = mixed.transpose(0, 2, 1)
        whole[:, own[:, None], own] = -scaled.transpose(0, 2, 1) @ mixed
        whole[:, own, own] += 1 / diagonal
        return whole


def _columns(wide: int, own: int) -> tuple[Ints, Ints]:
    every = np.arange(wide)
    return every[1 : 1 + own], np.concatenate([every[:1], every[1 + own :]])


def _parts(information: Floats, own: int) -> tuple[Floats, Floats, Floats]:
    """The block between the rest and the first factor, the first factor's diagonal, the rest's Schur complement."""
    mine, rest = _columns(information.shape[1], own)
    across = information[:, rest[:, None], mine]
    diagonal = information[:, mine, mine]
    remainder = information[:, rest[:, None], rest] - (across / diagonal[:, None, :]) @ across.transpose(0, 2, 1)
    return across, diagonal, remainder


def _solve(information: Floats, slope: Floats, own: int) -> Floats:
    mine, rest = _columns(information.shape[1], own)
    across, diagonal, remainder = _parts(information, own)
    scaled = slope[:, mine] / diagonal
    step = np.empty_like(slope)
    step[:, rest] = np.linalg.solve(remainder, (slope[:, rest, None] - across @ scaled[..., None]))[..., 0]
    step[:, mine] = scaled - (across.transpose(0, 2, 1) @ step[:, rest, None])[..., 0] / diagonal
    return step


def totals(which: NDArray, weights: Floats, size: int) -> Floats:
    return np.bincount(which.ravel(), weights=weights, minlength=size).astype(np.float64)


def columns(codes: Ints, sizes: Sequence[int]) -> csr_matrix:
    """The design: an intercept, then a column a level of every factor; one row a row of `codes`."""
    rows, factors = codes.shape
    starts = 1 + np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)
    places = np.concatenate([np.zeros((rows, 1), dtype=np.int64), codes + starts], axis=1)
    return csr_matrix(
        (np.ones(places.size), places.ravel(), np.arange(0, places.size + 1, factors + 1)),
        shape=(rows, 1 + int(np.sum(sizes))),
    )


def laplace(shop: Cells, mean: Floats, precision: Floats, start: Floats | None = None) -> Fits:
    """Logistic fits of the cells with independent Normal priors, all at once.

    `mean`, `precision`: (g, d), the prior of each fit. Newton's method from `start` (or `mean`), its steps capped at 2
    log odds. The log likelihood is without the binomial coefficients, which are the same for all fits.
    """
    design, own = columns(shop.codes, shop.sizes), shop.sizes[0]
    wide = design.shape[1]
    pairs = _pairs(design)
    mode = (mean if start is None else start).astype(float).copy()
    diagonal = np.arange(wide)

    def information_at(chance: Floats) -> Floats:
        information = (pairs.T @ (shop.pieces * chance * (1 - chance)).T).T.reshape(-1, wide, wide)
        information[:, diagonal, diagonal] += precision
        return information

    for _ in range(60):
        chance = expit((design @ mode.T).T)
        slope = (design.T @ (shop.events - shop.pieces * chance).T).T - precision * (mode - mean)
        step = _solve(information_at(chance), slope, own)
        longest = np.abs(step).max(axis=1, keepdims=True)
        mode += step * np.minimum(1, 2 / np.maximum(longest, 1e-12))
        if longest.max() < 1e-3:  # the error squares with each step, so it is now a millionth
            break
    line = (design @ mode.T).T
    information = information_at(expit(line))
    _, own_diagonal, remainder = _parts(information, own)
    likelihood = line @ shop.events - np.logaddexp(0, line) @ shop.pieces
    prior = (np.log(precision) - precision * (mode - mean) ** 2).sum(axis=1)
    determinant = np.log(own_diagonal).sum(axis=1) + np.linalg.slogdet(remainder)[1]
    return Fits(mode, information, likelihood + (prior - determinant) / 2, own)


def _pairs(design: csr_matrix) -> csr_matrix:
    """Every row's outer product with itself, flattened: (rows, d * d). Sparse, since a row has a one a factor."""
    rows, wide = design.shape
    each = design.indices.reshape(rows, -1)
    places = (each[:, :, None] * wide + each[:, None, :]).reshape(rows, -1)
    return csr_matrix(
        (np.ones(places.size), places.ravel(), np.arange(0, places.size + 1, places.shape[1])),
        shape=(rows, wide * wide),
    )
