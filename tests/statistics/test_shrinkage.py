"""The trees' parts against statsmodels' mixed model and a published example of shrinkage."""

import warnings

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from horses.statistics.shrinkage import Fit, _codes, _design, fit_at, parts_of_groups

# Batting averages of 18 players after 45 at-bats in 1970: B. Efron and C. Morris 1975, J. Am. Stat.
# Assoc. 70:311-319, and 1977, Scientific American 236(5):119-127: grand mean .265, shrinking
# factor .212, the best hitter .400 goes to .294 [from memory].
AVERAGES = [0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244]
AVERAGES += [0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156]
FACTOR = 0.212


def crossed(seed: int, trees: int = 6, horses: int = 20, checks: int = 120) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    tree, horse = rng.integers(0, trees, checks), rng.integers(0, horses, checks)
    parts, animals = rng.normal(0, 0.4, trees), rng.normal(0, 0.5, horses)
    value = 1.0 + parts[tree] + animals[horse] + rng.normal(0, 0.6, checks)
    return pd.DataFrame({"value": value, "tree": tree, "horse": horse, "one": 1})


def by_statsmodels(data: pd.DataFrame) -> tuple[dict[str, float], float, float, dict[int, float]]:
    model = MixedLM.from_formula(
        "value ~ 1",
        groups="one",
        vc_formula={"tree": "0 + C(tree)", "horse": "0 + C(horse)"},
        data=data,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = model.fit(reml=True)
    ratios = dict(zip(model.exog_vc.names, np.sqrt(fit.vcomp / fit.scale), strict=True))
    parts = {
        int(str(name).split("[")[2].rstrip("]")): value
        for name, value in fit.random_effects[1].items()
        if str(name).startswith("tree")
    }
    return ratios, float(fit.scale), float(fit.fe_params.iloc[0]), parts


def ours(data: pd.DataFrame, tree_ratio: float, horse_ratio: float) -> tuple[Fit, list[int]]:
    trees, horses = list(data.tree.unique()), list(data.horse.unique())
    codes = _codes(list(data.tree), trees), _codes(list(data.horse), horses)
    design = _design(data.value.to_numpy(), *codes, len(trees), len(horses))
    return fit_at(design, tree_ratio, horse_ratio), trees


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_mixed_model_agrees_with_statsmodels(seed: int) -> None:
    data = crossed(seed)
    ratios, variance, mean, parts = by_statsmodels(data)
    fit, trees = ours(data, ratios["tree"], ratios["horse"])
    assert fit.mean == pytest.approx(mean, rel=1e-5)
    assert fit.residual_variance == pytest.approx(variance, rel=1e-4)
    assert fit.parts == pytest.approx([parts[tree] for tree in trees], abs=1e-4)


def test_its_best_ratios_are_those_of_statsmodels() -> None:
    data = crossed(1)
    ratios, *_ = by_statsmodels(data)
    best, _ = ours(data, ratios["tree"], ratios["horse"])
    for factor in (0.8, 1.25):  # the twin: ratios that are off are less likely
        for pair in ((factor, 1.0), (1.0, factor)):
            off, _ = ours(data, pair[0] * ratios["tree"], pair[1] * ratios["horse"])
            assert off.log_likelihood < best.log_likelihood


def test_horses_taken_for_trees_would_be_noticed() -> None:
    data = crossed(1)
    ratios, _, _, parts = by_statsmodels(data)
    fit, trees = ours(data, ratios["horse"], ratios["tree"])
    assert fit.parts != pytest.approx([parts[tree] for tree in trees], abs=1e-2)


def test_even_groups_shrink_by_the_published_factor() -> None:
    """One value each: the share kept is 1 - (k - 3) s2 / S, which the ratio stands for here."""
    values = np.array(AVERAGES)
    k, error = len(values), 0.265 * 0.735 / 45
    spread = float(np.sum((values - values.mean()) ** 2))
    kept = 1 - (k - 3) * error / spread
    assert kept == pytest.approx(FACTOR, abs=0.002)
    design = _design(values, np.arange(k), np.zeros(k, np.intp), k, 1)
    fit = fit_at(design, float(np.sqrt(kept / (1 - kept))), 0.0)
    assert fit.mean + fit.parts[0] == pytest.approx(0.294, abs=0.001)
    unshrunk = fit_at(design, 100.0, 0.0)
    assert unshrunk.mean + unshrunk.parts[0] != pytest.approx(0.294, abs=0.001)


def test_two_sore_horses_do_not_condemn_a_tree() -> None:
    rng = np.random.default_rng(8)
    horses = [f"h{i}" for i in range(14)]
    values, trees, animals = [], [], []
    for i, horse in enumerate(horses):
        tree = "new" if i < 2 else f"t{i % 4}"
        level = 1.6 if i < 2 else 0.8 + rng.normal(0, 0.4)
        for _ in range(4):
            values.append(level + rng.normal(0, 0.3))
            trees.append(tree)
            animals.append(horse)
    parts = parts_of_groups(values, trees, animals)
    assert parts is not None
    new = next(group for group in parts.groups if group.group == "new")
    assert (new.horses, new.checks) == (2, 8)
    assert new.raw - parts.mean > 0.5
    assert 0 < new.part < new.raw - parts.mean
    assert new.low < 0 < new.high


def test_ten_times_the_horses_do() -> None:
    rng = np.random.default_rng(8)
    rows = [
        ("new" if i < 20 else f"t{i % 4}", f"h{i}", (1.6 if i < 20 else 0.6) + rng.normal(0, 0.3))
        for i in range(80)
        for _ in range(3)
    ]
    parts = parts_of_groups([v for *_, v in rows], [t for t, *_ in rows], [h for _, h, _ in rows])
    assert parts is not None
    new = next(group for group in parts.groups if group.group == "new")
    assert new.worse > 0.95


def test_too_little_to_compare_gives_nothing() -> None:
    assert parts_of_groups([1.0] * 10, ["a"] * 10, list(range(10))) is None
    assert parts_of_groups([1.0, 2.0], ["a", "b"], [1, 2]) is None


def test_all_alike_says_that_nothing_can_be_told() -> None:
    parts = parts_of_groups([1.0] * 8, ["a", "b"] * 4, [1, 2, 3, 4] * 2)
    assert parts is not None
    assert all(abs(group.part) < 1e-6 for group in parts.groups)
