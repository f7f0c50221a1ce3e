"""What a sample said against what was expected, and what every hypothesis is worth by it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Surprise:
    """What a sample said against what was expected before it."""

    expected: Array
    """Expected reading [ppm]."""
    difference: Array
    """Reading − expected [ppm], zero where nothing was read."""
    covariance: Array
    """Of the difference [ppm²]."""
    chi_square: float
    read: int
    log_density: float
    """Log of the Gaussian density of the difference, up to what does not depend on the covariance."""
    white: Array
    """What makes the difference white: the inverse of the covariance's lower root."""


@dataclass(frozen=True, slots=True)
class Known:
    """Of every hypothesis about one amplitude: information, score, and what the lasting ones share with it."""

    information: Array
    score: Array
    shared: Array
    lasting: NDArray[np.intp]
    """Columns of the lasting hypotheses, one for each row of `shared`."""
    gap: Array | None = None
    """White gap of a sample that is not in `shared` yet."""
    told: tuple[tuple[int, Array, float], ...] = ()
    """(row, what it shares with all, its total information) of those taken for granted."""

    def shared_by(self, row: int) -> Array:
        """Information that one lasting hypothesis has in common with every other."""
        along: Array = self.shared[row]
        if self.gap is not None:
            along = along + self.gap[:, self.lasting[row]] @ self.gap
        for _, others, total in self.told:
            along = along - others * (float(others[self.lasting[row]]) / total)
        return along

    def given(self, row: int, scale: float) -> Known:
        """The same, if the lasting hypothesis `row` is true with an amplitude of this scale.

        Its amplitude is marginalised: Gaussian conditioning of all the others on it."""
        column = int(self.lasting[row])
        total, along = float(self.information[column]) + 1.0 / scale**2, self.shared_by(row)
        return replace(
            self,
            information=np.maximum(self.information - along * along / total, 0.0),
            score=self.score - along * (float(self.score[column]) / total),
            told=(*self.told, (row, along, total)),
        )


def whitening(covariance: Array) -> tuple[Array, Array]:
    """(inverse of the lower root L of a covariance L L', diagonal of L). Raises LinAlgError where it is none.

    Straight from LAPACK: the checks around it cost several times what so small a matrix does."""
    root, failed = dpotrf(covariance, lower=1, clean=1)
    if failed:
        raise np.linalg.LinAlgError("a covariance is not positive definite")
    inverse, _ = dtrtri(root, lower=1)
    return np.asarray(inverse), np.asarray(root.diagonal())
