"""The reliability table and the Brier score of the calibration bench against scikit-learn's."""

from __future__ import annotations

import re
from random import Random

import numpy as np
import pytest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss

from tests.bench.calibration import STEPS, Try, table

ROW = re.compile(r"(\d+)% to (\d+)%\s+(\d+)\s+([\d.]+)%\s+([\d.]+)%")


def verdicts(seed: int, lean: float) -> list[Try]:
    """Verdicts that are right as often as they say, or `lean` less often."""
    chance = Random(seed)
    found = []
    for number in range(3000):
        sure = 1.0 - chance.random() ** 2 * 0.9
        is_right = chance.random() < sure - lean * sure
        found.append(
            Try("maker", "lamp", "230", "raw", 0.0, str(number), "fault", "remedy", sure, is_right,
                10.0, 0.1, (), 0.0)
        )  # fmt: skip
    return found


@pytest.mark.parametrize(("seed", "lean"), [(1, 0.0), (2, 0.2)])
def test_shares_of_right_verdicts_are_scikit_learns(seed: int, lean: float) -> None:
    """Its even bins of a twentieth, added up to the table's steps."""
    found, lines = verdicts(seed, lean), list[str]()
    table(found, lines.append)
    right = np.array([one.is_right for one in found], dtype=int)
    sure = np.array([one.sure for one in found])
    shares, means = calibration_curve(right, sure, n_bins=20)
    counts = np.histogram(sure, np.linspace(0.0, 1.0, 21))[0]
    counts = counts[counts > 0]
    edges = np.array(STEPS)
    rows = [match for line in lines for match in ROW.findall(line)]
    assert len(rows) >= 5
    for low, high, many, mean, share in rows:
        inside = (means >= int(low) / 100) & (means < int(high) / 100 + 1e-9)
        assert int(low) / 100 in edges.round(2)
        assert int(many) == counts[inside].sum()
        assert float(share) == pytest.approx(
            100 * np.average(shares[inside], weights=counts[inside]), abs=0.051
        )
        assert float(mean) == pytest.approx(
            100 * np.average(means[inside], weights=counts[inside]), abs=0.051
        )


@pytest.mark.parametrize(("seed", "lean"), [(1, 0.0), (2, 0.2)])
def test_the_brier_score_is_scikit_learns(seed: int, lean: float) -> None:
    """To the four decimals that are printed; worse where verdicts are too sure."""
    found, lines = verdicts(seed, lean), list[str]()
    table(found, lines.append)
    printed = float(re.search(r"Brier score ([\d.]+)", " ".join(lines))[1])  # type: ignore[index]
    exact = brier_score_loss([one.is_right for one in found], [one.sure for one in found])
    assert printed == pytest.approx(exact, abs=5.1e-5)
