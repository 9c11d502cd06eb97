#!/usr/bin/env python3
"""Computes with numpy's least squares and scipy what the analysis of variance has answered.

usage: anova_check.py FILE     one line per difference; exit status 1 when there is one
"""
import sys

import numpy as np
from scipy import stats


def residual(columns, y):
    """Residual sum of squares and rank of the linear model with these columns."""
    x = np.column_stack(columns)
    fit, _, rank, _ = np.linalg.lstsq(x, y, rcond=None)
    return float(((y - x @ fit) ** 2).sum()), int(rank)


def dummies(labels):
    return [np.array([1.0 if label == level else 0.0 for label in labels])
            for level in sorted(set(labels))]


def steps(models, y):
    """Sums of squares and degrees of freedom that each model takes off the one before."""
    rss = [residual(model, y) for model in models]
    found = [(a[0] - b[0], b[1] - a[1]) for a, b in zip(rss, rss[1:])]
    return found + [(rss[-1][0], len(y) - rss[-1][1])]


def two(given):
    a, b, r = (int(n) for n in given[:3])
    answers, y = given[3:10], np.array(given[10:])
    y = y - y.mean()
    i = [k // (b * r) for k in range(len(y))]
    j = [k // r % b for k in range(len(y))]
    one = [np.ones(len(y))]
    da, db, dab = dummies(i), dummies(j), dummies(list(zip(i, j)))
    (ss_a, n_a), (ss_b, n_b), (ss_ab, n_ab), (ss_e, n_e) = steps(
        [one, one + da, one + da + db, one + da + db + dab], y)
    ms_ab, ms_e = ss_ab / n_ab, ss_e / n_e
    expected = [ss_a, stats.f.sf(ss_a / n_a / ms_ab, n_a, n_ab), ss_b,
                stats.f.sf(ss_b / n_b / ms_ab, n_b, n_ab), ss_ab,
                stats.f.sf(ms_ab / ms_e, n_ab, n_e), ss_e]
    return zip(answers, expected)


def one(given):
    groups, rest = [], given[2:]
    while rest:
        n = int(rest[0])
        groups.append(rest[1:n + 1])
        rest = rest[n + 1:]
    return zip(given[:2], stats.f_oneway(*groups))


def nested(given):
    rows = np.array(given[6:]).reshape(-1, 3)
    y = rows[:, 2]
    ones = [np.ones(len(y))]
    outer = dummies(list(rows[:, 0]))
    inner = dummies(list(zip(rows[:, 0], rows[:, 1])))
    expected = [n for step in steps([ones, ones + outer, ones + outer + inner], y) for n in step]
    return zip(given[:6], expected)


def main():
    wrong = compared = 0
    with open(sys.argv[1], encoding="utf-8") as file:
        for line in file:
            word, *numbers = line.split()
            given = [float(number) for number in numbers]
            for found, answer in {"two": two, "one": one, "nested": nested}[word](given):
                compared += 1
                if not abs(answer - found) <= 1e-8 * abs(answer) + 1e-11:
                    wrong += 1
                    print(f"{line.strip()[:60]}: {found!r}, the library has {answer!r}")
    if compared < 300:
        print(f"only {compared} comparisons were made")
        wrong += 1
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
