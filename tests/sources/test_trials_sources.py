"""Are the worlds of the robustness report Dirichlet draws as the textbook has them?"""

from __future__ import annotations

import numpy as np
import pytest

from engine.studies.trial.robustness import draw_worlds


def test_worlds_have_the_moments_of_the_dirichlet_distribution() -> None:
    """Parameters 5 10 2 3: mean .25 .50 .10 .15, sd .0945 .1091 .0655 .0779.

    Closed form sqrt(m (1 - m) / (20 + 1)), computed with scipy.stats.dirichlet beforehand.
    """
    worlds = draw_worlds(np.array([0.25, 0.5, 0.1, 0.15]), 40_000, 20.0, seed=11)
    assert worlds.mean(axis=0).tolist() == pytest.approx([0.25, 0.50, 0.10, 0.15], abs=0.002)
    assert worlds.std(axis=0).tolist() == pytest.approx([0.0945, 0.1091, 0.0655, 0.0779], abs=0.002)


def test_worlds_have_the_quantiles_of_the_beta_margins() -> None:
    """The 2.5 and 97.5 % points of the same: .0915-.4557 .2886-.7114 .0130-.2603 .0338-.3314."""
    worlds = draw_worlds(np.array([0.25, 0.5, 0.1, 0.15]), 40_000, 20.0, seed=12)
    low, high = np.quantile(worlds, (0.025, 0.975), axis=0)
    assert low.tolist() == pytest.approx([0.0915, 0.2886, 0.0130, 0.0338], abs=0.005)
    assert high.tolist() == pytest.approx([0.4557, 0.7114, 0.2603, 0.3314], abs=0.005)
