#!/usr/bin/env python3
"""Computes with scipy what cutface/stats_run.h has answered and compares.

usage: run_library_check.py FILE     one line per difference; exit status 1 when there is one
Lines: word, count of answers, answers, count of the first sample, first sample, second sample.
"""
import sys

import numpy as np
from scipy import stats


def one_sided_factor(n, coverage, confidence):
    """By the distribution function, which scipy has to more digits than its inverse."""
    root = np.sqrt(n)
    shift = stats.norm.ppf(coverage) * root
    from scipy.optimize import brentq
    return brentq(lambda k: stats.nct.cdf(k * root, n - 1, shift) - confidence, -5, 3000,
                  xtol=1e-13)


def welch(a, b):
    test = stats.ttest_ind(b, a, equal_var=False)
    va, vb = a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)
    dof = (va + vb)**2 / (va**2 / (len(a) - 1) + vb**2 / (len(b) - 1))
    half = stats.t.ppf(0.975, dof) * np.sqrt(va + vb)
    shift = b.mean() - a.mean()
    ratio = b.std(ddof=1) / a.std(ddof=1)
    f = stats.f(len(b) - 1, len(a) - 1)
    return [shift, test.pvalue, shift - half, shift + half, ratio / np.sqrt(f.ppf(0.975)),
            ratio / np.sqrt(f.ppf(0.025))]


def expected(word, first, second):
    a, b = np.array(first), np.array(second)
    if word == "sample":
        low, high = stats.t.interval(0.95, len(a) - 1, a.mean(), stats.sem(a))
        chi = stats.chi2(len(a) - 1)
        sd = a.std(ddof=1)
        return [low, high, sd * np.sqrt((len(a) - 1) / chi.ppf(0.975)),
                sd * np.sqrt((len(a) - 1) / chi.ppf(0.025)), stats.anderson(a, "norm").statistic]
    if word == "two":
        return welch(a, b)
    if word == "trend":
        line = stats.linregress(a, b)
        return [line.slope, line.intercept, line.pvalue]
    if word == "directions":
        return [stats.circmean(a), stats.circstd(a)]
    if word == "tails":
        least, greatest = stats.gumbel_l.fit(a), stats.gumbel_r.fit(a)
        normal = (a.mean(), a.std(ddof=1))
        out = []
        for law, place in ((stats.norm, normal), (stats.gumbel_l, least),
                           (stats.gumbel_r, greatest)):
            out += [*place, law.ppf(0.00135, *place)]
        return out
    if word == "factor":
        return [one_sided_factor(*first)]
    raise ValueError(word)


def main():
    # scipy's search for the extreme value fit and its Student quantile stop early.
    tolerance = {"tails": 1e-5, "factor": 1e-8, "sample": 1e-8, "two": 1e-8}
    wrong = compared = 0
    with open(sys.argv[1], encoding="utf-8") as file:
        for line in file:
            word, *numbers = line.split()
            numbers = [float(number) for number in numbers]
            answers, rest = numbers[1:1 + int(numbers[0])], numbers[1 + int(numbers[0]):]
            first, second = rest[1:1 + int(rest[0])], rest[1 + int(rest[0]):]
            for answer, found in zip(expected(word, first, second), answers, strict=True):
                compared += 1
                limit = tolerance.get(word, 1e-9)
                if not abs(answer - found) <= limit * abs(answer) + limit:
                    wrong += 1
                    print(f"{word} {line[:60]}: {found!r}, the library has {answer!r}")
    if compared < 900:
        print(f"only {compared} comparisons were made")
        wrong += 1
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
