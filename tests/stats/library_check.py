#!/usr/bin/env python3
"""Computes with scipy and numpy what the room stats has answered and compares.

usage: library_check.py FILE     one line per difference; exit status 1 when there is one
"""
import sys

import numpy as np
from scipy import stats


def expected(word, given):
    """The library's answers and how many of the leading numbers were questions."""
    if word == "normal_quantile":
        return [stats.norm.ppf(given[0])], 1
    if word == "normal_cdf":
        return [stats.norm.cdf(given[0])], 1
    if word == "binomial":
        hits, trials, confidence = int(given[0]), int(given[1]), given[2]
        interval = stats.binomtest(hits, trials).proportion_ci(confidence, method="exact")
        return [interval.low, interval.high], 3
    if word == "sample":
        values = np.array(given[6:])
        return [np.quantile(values, given[0]), np.median(values), values.mean(),
                values.std(ddof=1), stats.median_abs_deviation(values, scale="normal")], 1
    raise ValueError(word)


def main():
    wrong = 0
    compared = 0
    with open(sys.argv[1], encoding="utf-8") as file:
        for line in file:
            word, *numbers = line.split()
            given = [float(number) for number in numbers]
            answers, questions = expected(word, given)
            for answer, found in zip(answers, given[questions:]):
                compared += 1
                if not abs(answer - found) <= 1e-9 * abs(answer) + 1e-14:
                    wrong += 1
                    print(f"{line.strip()[:80]}: {found!r}, the library has {answer!r}")
    if compared < 1000:
        print(f"only {compared} comparisons were made")
        wrong += 1
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
