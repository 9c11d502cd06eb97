#!/usr/bin/env python3
"""Computes with statsmodels and scipy what the rooms stats and study have answered and compares.

usage: outside_check.py FILE     one line per difference; exit status 1 when there is one
Lines: word, count of answers, answers, then what was asked; see outside_test.cpp. What stands
nowhere below is held against R or, in tests/stats, against scipy.
"""
import sys
import warnings

import numpy as np
import pandas
from scipy import integrate, special, stats
from statsmodels.formula.api import ols
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.stats import diagnostic, inter_rater, multitest, proportion, weightstats
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.oneway import anova_oneway


def groups_of(x):
    groups = []
    while x:
        n = int(x[0])
        groups.append(x[1:n + 1])
        x = x[n + 1:]
    return groups


def crossed(x):
    a, b, r = (int(n) for n in x[:3])
    frame = pandas.DataFrame({"y": x[3:], "A": [k // (b * r) for k in range(a * b * r)],
                              "B": [k // r % b for k in range(a * b * r)]})
    both = anova_lm(ols("y ~ C(A) * C(B)", frame).fit())
    pooled = anova_lm(ols("y ~ C(A) + C(B)", frame).fit())
    ss, df = list(both["sum_sq"]), list(both["df"])
    ms = [s / d for s, d in zip(ss, df)]
    # Both factors are random, so they stand against the interaction.
    return ss + df + [stats.f.sf(ms[i] / ms[2], df[i], df[2]) for i in (0, 1)] + [
        both["PR(>F)"][2], *pooled["F"][:2], *pooled["PR(>F)"][:2]]


def nested_even(x):
    """Sums of squares; variances by restricted likelihood, which equal numbers make the same as
    those by mean squares as long as none is negative."""
    rows = np.array(x).reshape(-1, 3)
    frame = pandas.DataFrame({"y": rows[:, 2], "A": rows[:, 0], "B": rows[:, 1]})
    table = anova_lm(ols("y ~ C(A) + C(A):C(B)", frame).fit())
    model = MixedLM.from_formula("y ~ 1", frame, groups="A", re_formula="1",
                                 vc_formula={"B": "0 + C(B)"})
    fit = model.fit(reml=True)
    return list(table["sum_sq"]) + list(table["df"]) + [
        float(fit.cov_re.iloc[0, 0]), float(fit.vcomp[0]), float(fit.scale)]


def resultant_beyond(length, n):
    """Exact chance that the sum of n unit vectors of even directions is longer (Kluyver 1906)."""
    def step(t):
        return special.j1(length * t) * special.j0(t)**n
    # The integrand falls like t^-(n + 1)/2; each piece is a part of an oscillation.
    edges = np.arange(0, 401) * 0.5
    inside = sum(integrate.quad(step, a, b, epsabs=1e-13)[0] for a, b in zip(edges, edges[1:]))
    return 1 - length * inside


def directions(x):
    a = np.array(x)
    c, s = np.cos(a).sum(), np.sin(a).sum()
    return [stats.circmean(a), 1 - stats.circvar(a), stats.circstd(a),
            resultant_beyond(np.hypot(c, s), len(a))]


def two_lists(x):
    n = len(x) // 2
    words = sorted(set(x))
    table = np.zeros((len(words), len(words)))
    for a, b in zip(x[:n], x[n:]):
        table[words.index(a), words.index(b)] += 1
    return [inter_rater.cohens_kappa(table).kappa]


def expected(word, x):
    if word == "one":
        found = anova_oneway(groups_of(x), use_var="equal")
        return [None] * 4 + [found.statistic, found.pvalue]
    if word == "crossed":
        return crossed(x)
    if word == "nested_even":
        return nested_even(x)
    if word == "normality":
        statistic, p = diagnostic.normal_ad(np.array(x))
        return [statistic, p]
    if word == "kappa_two":
        return two_lists(x)
    if word == "kappa_many":
        return [inter_rater.fleiss_kappa(np.array(x[1:]).reshape(-1, int(x[0])))]
    if word == "directions":
        return directions(x)
    if word == "holm":
        return list(multitest.multipletests(x, method="holm")[1])
    if word == "share":
        return list(proportion.proportion_confint(x[0], x[1], 1 - x[2], method="beta"))
    if word == "equivalence":
        n = int(x[0])
        a, margin, b = x[1:n + 1], x[n + 1], x[n + 2:]
        p = weightstats.ttost_ind(np.array(b), np.array(a), -margin, margin, usevar="unequal")[0]
        low, high = weightstats.CompareMeans.from_data(b, a).tconfint_diff(0.1, usevar="unequal")
        return [p, low, high]
    return []


def tolerance(word, at):
    if word == "nested_even" and at >= 6:
        return 2e-3, 1e-6  # the search for the likeliest variances ends early
    if word == "directions" and at == 3:
        return 0, 1.5e-3  # Zar's formula is an approximation: what it is good for from 10 values
    if word == "equivalence":
        return 1e-7, 1e-9  # scipy's Student quantile stops early
    return 1e-8, 1e-12


def main():
    warnings.filterwarnings("ignore")
    wrong = compared = 0
    with open(sys.argv[1], encoding="utf-8") as file:
        for line in file:
            word, *numbers = line.split()
            numbers = [float(number) for number in numbers]
            count = int(numbers[0])
            answers, asked = numbers[1:1 + count], numbers[1 + count:]
            for at, (found, answer) in enumerate(zip(answers, expected(word, asked))):
                if answer is None or np.isnan(answer):
                    continue
                compared += 1
                share, least = tolerance(word, at)
                if not abs(found - answer) <= share * abs(answer) + least:
                    wrong += 1
                    print(f"{word}, answer {at + 1}: {found!r}, the library has {answer!r}")
    print(f"statsmodels and scipy: {compared} comparisons")
    if compared < 600:
        print("too few")
        wrong += 1
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
