import math

import numpy as np
import pytest
from scipy.stats import binomtest, permutation_test, t

from sim.series.shares import share_interval
from sim.series.statistics import (
    _outwards,
    _weights,
    bundled,
    clean_runs_for,
    flip_test,
    holm,
    quantile,
    resampled,
    resampled_quantile,
    resampled_ratio,
    wilson,
    zero_bound,
)


def test_wilson_against_the_formula_of_brown_cai_and_dasgupta():
    # Brown, Cai & DasGupta 2001, Statistical Science 16, 101, equation 4; numbers: independent arithmetic.
    interval = wilson(47, 50)
    assert (interval.low, interval.high) == pytest.approx((0.83783, 0.97939), abs=5e-6)


@pytest.mark.parametrize(("count", "of"), [(0, 7), (1, 9), (47, 50), (200, 200), (3, 1000)])
def test_wilson_against_an_independent_library(count, of):
    reference = binomtest(count, of).proportion_ci(0.95, "wilson")
    assert wilson(count, of).low == pytest.approx(reference.low, abs=1e-12)
    assert wilson(count, of).high == pytest.approx(reference.high, abs=1e-12)


def test_nothing_seen_in_a_hundred_is_at_most_three_percent():
    # Rule of three, Hanley & Lippman-Hand 1983; exact value: independent arithmetic.
    assert zero_bound(100) == pytest.approx(0.02951, abs=5e-6)
    assert (1 - zero_bound(100)) ** 100 == pytest.approx(0.05, rel=1e-12)


def test_zero_bound_is_the_exact_one_sided_limit_of_an_independent_library():
    reference = binomtest(0, 40, alternative="less").proportion_ci(0.95, "exact")
    assert zero_bound(40) == pytest.approx(reference.high, rel=1e-9)


def test_runs_for_one_in_a_thousand_and_for_a_95th_percentile():
    # ln 0.05 / ln 0.999 = 2994.2 and ln 0.05 / ln 0.95 = 58.4: independent arithmetic.
    assert clean_runs_for(1e-3) == 2995
    assert clean_runs_for(0.05) == 59
    assert zero_bound(59) <= 0.05 < zero_bound(58)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_against_newcombes_table(count, of, low, high):
    # Newcombe 1998, Statistics in Medicine 17, 857, table I, method 3 (score without continuity correction).
    assert (wilson(count, of).low, wilson(count, of).high) == pytest.approx((low, high), abs=5e-5)


def test_mcnemars_exact_test_against_a_published_example():
    # Two media for cultures, 12 and 2 pairs differ: Armitage & Berry 1994, Statistical Methods in Medical Research,
    # p. 127, as worked in the manual of StatsDirect on matched pairs: two-sided p = 0.0129.
    assert flip_test(np.array([1.0] * 12 + [-1.0] * 2 + [0.0] * 36)) == pytest.approx(0.0129, abs=5e-5)


@pytest.mark.parametrize("size", [1.0, 0.25])
def test_flipping_signs_of_one_size_is_mcnemars_exact_test(size):
    # b = 14, c = 4: p = 2 sum_{i<=4} C(18, i) / 2^18 = 0.030884 (independent arithmetic).
    exact = 2 * sum(math.comb(18, i) for i in range(5)) / 2**18
    assert exact == pytest.approx(0.030884, abs=5e-7)
    assert exact == pytest.approx(binomtest(4, 18).pvalue, rel=1e-12)
    assert flip_test(size * np.array([1.0] * 14 + [-1.0] * 4 + [0.0] * 22)) == pytest.approx(exact, rel=1e-12)


def test_nearly_one_size_has_nearly_the_exact_value():
    # The drawn signs against the closed form: one difference is a little larger, so that signs are drawn.
    exact = binomtest(4, 18).pvalue
    found = flip_test(np.array([1.0 + 1e-9] + [1.0] * 13 + [-1.0] * 4))
    assert found == pytest.approx(exact, abs=4 * math.sqrt(exact / 9999))


def test_flipping_signs_against_an_independent_library():
    differences = np.array([1.2, -0.3, 0.8, 0.1, -0.2, 2.1, 0.4, 0.9])
    reference = permutation_test((differences,), np.mean, permutation_type="samples", n_resamples=10**6).pvalue
    assert flip_test(differences) == pytest.approx(reference, abs=4 * math.sqrt(reference / 9999))


def test_no_difference_at_all_has_p_one():
    assert flip_test(np.zeros(12)) == 1.0


def test_holm_steps_down():
    # Holm 1979, Scand. J. Statistics 6, 65: sorted p times 4, 3, 2, 1, never falling; independent arithmetic.
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([0.7, 0.6]) == [1.0, 1.0]
    assert holm([0.03]) == [0.03]
    assert holm([]) == []


def test_bootstrap_of_a_mean_agrees_with_the_central_limit_theorem():
    values = np.random.default_rng(5).normal(10.0, 2.0, 400)
    interval = resampled_ratio(values, np.ones(len(values)))
    half = 1.96 * values.std(ddof=1) / math.sqrt(len(values))
    assert interval.low == pytest.approx(values.mean() - half, abs=0.15 * half)
    assert interval.high == pytest.approx(values.mean() + half, abs=0.15 * half)


def test_bootstrap_of_specimens_that_are_all_alike_says_so():
    interval = resampled(lambda weights: weights @ np.full(8, 3.0) / 8, 8)
    assert (interval.low, interval.high) == (None, None)
    assert "8 specimens are alike" in interval.reason


def test_share_over_specimens_is_wider_than_over_rows_when_runs_of_one_are_alike():
    flags = np.repeat(np.arange(40) % 4 > 0, 18).reshape(40, 18)  # 30 of 40 specimens do everything right
    rows, specimens = wilson(30 * 18, 40 * 18), share_interval(flags)
    assert specimens.high - specimens.low > 3 * (rows.high - rows.low)


def test_all_or_none_has_as_many_witnesses_as_specimens():
    flags = np.ones((40, 18), dtype=bool)
    assert share_interval(flags).low == pytest.approx(0.05 ** (1 / 40))
    assert share_interval(~flags).high == pytest.approx(1 - 0.05 ** (1 / 40))


def test_interval_of_a_share_covers_the_truth_about_as_often_as_it_says():
    # By interval, not by digits: 95 % wanted, 90 % is the least that 300 trials of a bootstrap may show.
    chance, hits, truth = np.random.default_rng(11), 0, 0.8
    for _ in range(300):
        machines = chance.beta(8, 2, 40)  # mean 0.8, machines differ
        interval = share_interval(chance.random((40, 12)) < machines[:, None])
        hits += interval.low <= truth <= interval.high
    assert 0.90 <= hits / 300 <= 0.99


@pytest.mark.slow
@pytest.mark.parametrize(
    ("a", "b", "machines", "tunings"), [(8, 2, 40, 12), (19, 1, 40, 18), (8, 2, 20, 12), (5, 5, 40, 3)]
)
def test_coverage_of_the_shipped_interval(a: int, b: int, machines: int, tunings: int) -> None:
    """95 % within 1.5 %, in 4000 simulated series whose machines differ (beta-binomial)."""
    chance, hits, truth = np.random.default_rng(5), 0, a / (a + b)
    for _ in range(4000):
        each = chance.beta(a, b, machines)
        interval = share_interval(chance.random((machines, tunings)) < each[:, None])
        hits += interval.low <= truth <= interval.high
    assert 0.935 <= hits / 4000 <= 0.965


def paired(chance: np.random.Generator) -> np.ndarray:
    """Plucks of two strategies on 40 specimens; the second takes one more on average."""
    hard = chance.poisson(20, 40)
    return (hard + chance.poisson(9, 40)) - (hard + chance.poisson(10, 40)).astype(float)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("draw", "truth"),
    [
        (lambda chance: chance.exponential(1.0, 40), 1.0),
        (lambda chance: chance.normal(0.0, 1.0, 10), 0.0),
        (paired, -1.0),
    ],
    ids=["skewed mean", "few specimens", "paired difference"],
)
def test_coverage_of_means_and_paired_differences(draw, truth):
    # 95 % within 1.5 %, in 4000 simulated series.
    chance, hits = np.random.default_rng(7), 0
    for _ in range(4000):
        values = draw(chance)
        interval = resampled_ratio(values, np.ones(len(values)))
        hits += interval.low <= truth <= interval.high
    assert 0.935 <= hits / 4000 <= 0.965


@pytest.mark.parametrize("specimens", [5, 10, 40, 1000])
def test_few_specimens_widen_an_interval_like_students_t(specimens: int) -> None:
    """Against scipy's t distribution."""
    wanted = t.ppf(0.975, specimens - 1) * math.sqrt(specimens / (specimens - 1))
    assert _outwards(0.95, specimens) == pytest.approx(wanted, rel=5e-3)


def test_quantile_counts_infinity_as_the_largest():
    values = np.array([1.0, 2.0, 3.0, math.inf])
    assert quantile(values, 0.5) == 2.0
    assert quantile(values, 0.95) == math.inf


def test_upper_end_of_a_95th_percentile_needs_59_specimens():
    values = np.random.default_rng(3).exponential(5.0, (59, 10))
    assert math.isfinite(resampled_quantile(values, 0.95).high)
    assert resampled_quantile(values[:58], 0.95).high == math.inf
    assert math.isfinite(resampled_quantile(values[:58], 0.95).low)


def test_bundles_lose_nothing_and_few_specimens_stay_by_themselves():
    few, many = np.arange(2000.0), np.arange(4500.0)
    assert bundled(few)[0] is few
    (sums,) = bundled(many)
    assert (len(sums), sums.sum()) == (2000, many.sum())
    assert set(bundled(np.ones(4500))[0]) == {2.0, 3.0}


@pytest.mark.parametrize("specimens", [2500, 9000])  # bundles of one and two, of four and five
def test_bundles_spread_like_specimens(specimens):
    # Central limit theorem for a ratio of means: the error is that of sums - ratio * counts (Cochran 1977, section
    # 2.11, from memory). The error of 2000 resamples is some 3 %.
    chance = np.random.default_rng(3)
    counts = chance.poisson(5, specimens) + 1.0
    sums = counts * chance.exponential(2.0, specimens)
    ratio = sums.sum() / counts.sum()
    half = 1.96 * math.sqrt(specimens) * (sums - ratio * counts).std() / counts.sum()
    interval = resampled_ratio(sums, counts)
    assert interval.high - interval.low == pytest.approx(2 * half, rel=0.1)


def test_signs_of_bundles_tell_as_much_as_signs_of_specimens():
    # Central limit theorem: sum over root of squares is standard normal; 4 standard errors of 9999 choices.
    differences = np.random.default_rng(8).normal(0.02, 1.0, 9000)
    wanted = math.erfc(abs(differences.sum()) / math.sqrt(2 * (differences**2).sum()))
    assert flip_test(differences) == pytest.approx(wanted, abs=4 * math.sqrt(wanted / 9999) + 0.1 * wanted)


@pytest.mark.slow
def test_coverage_of_many_specimens_in_bundles():
    # 95 % within 1.5 %, in 4000 simulated series.
    chance, hits = np.random.default_rng(7), 0
    for _ in range(4000):
        interval = resampled_ratio(chance.exponential(1.0, 3000), np.ones(3000))
        hits += interval.low <= 1.0 <= interval.high
    assert 0.935 <= hits / 4000 <= 0.965


@pytest.mark.parametrize(("specimens", "runs"), [(1, 4), (7, 3), (80, 12)])
def test_quantile_of_resamples_found_by_halving_is_that_of_every_resample(specimens, runs):
    # Independent arithmetic: the quantile of each resample with its specimens written out as often as drawn.
    values = np.random.default_rng(specimens).integers(0, 30, (specimens, runs)).astype(float)
    drawn = np.concatenate(list(_weights(specimens))).astype(int)
    found = [quantile(np.repeat(values, times, axis=0), 0.9) for times in drawn]
    low, high = np.quantile(found, (0.025, 0.975), method="inverted_cdf")
    interval = resampled_quantile(values, 0.9)
    assert (interval.low, interval.high) == (low, high if specimens >= 29 else math.inf)


def test_quantile_of_many_specimens_is_as_sure_as_ranks_say():
    # Ranks below a quantile are binomial (Conover 1999, section 3.2, from memory); resampling blurs the ends.
    values, half = np.random.default_rng(2).permutation(9000.0 + np.arange(9000)), 1.96 * math.sqrt(9000 * 0.95 * 0.05)
    interval = resampled_quantile(values[:, None], 0.95)
    ends = (9000 + 0.95 * 9000 - half, 9000 + 0.95 * 9000 + half)
    assert (interval.low, interval.high) == pytest.approx(ends, abs=0.2 * half)
