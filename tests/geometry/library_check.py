#!/usr/bin/env python3
"""Computes with shapely (GEOS) and scipy what the geometry room has answered and compares.

usage: library_check.py FILE     one line per difference; exit status 1 when there is one
"""
import json
import sys

import numpy as np
from scipy import optimize
from scipy.spatial import ConvexHull
from shapely.geometry import Point, Polygon
from shapely.ops import polylabel


def widths(points):
    """Least and greatest parallel width by projecting on the directions of all hull edges."""
    hull = points[ConvexHull(points).vertices]
    edges = np.roll(hull, -1, axis=0) - hull
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    spans = np.ptp(hull @ normals.T, axis=0)
    apart = np.linalg.norm(hull[:, None, :] - hull[None, :, :], axis=2)
    return spans.min(), apart.max()


def fitted_circle(points):
    def residuals(c):
        return np.hypot(points[:, 0] - c[0], points[:, 1] - c[1]) - c[2]

    middle = points.mean(axis=0)
    start = [*middle, np.hypot(*(points - middle).T).mean()]
    return optimize.least_squares(residuals, start, xtol=1e-15, ftol=1e-15, gtol=1e-15).x


def enclosing_radius(points):
    """A convex problem in the centre: minimise the greatest distance."""
    hull = points[ConvexHull(points).vertices]
    middle = hull.mean(axis=0)
    size = np.ptp(hull, axis=0).max()
    # minimise t so that |p - c|^2 <= t for all p, in units of the size
    scaled = (hull - middle) / size
    cons = {"type": "ineq", "fun": lambda v: v[2] - ((scaled - v[:2]) ** 2).sum(axis=1)}
    found = optimize.minimize(lambda v: v[2], [0, 0, 2], constraints=[cons], method="SLSQP",
                              options={"ftol": 1e-15, "maxiter": 500})
    return size * np.sqrt(((scaled - found.x[:2]) ** 2).sum(axis=1).max())


def main():
    wrong = 0
    compared = 0
    with open(sys.argv[1], encoding="utf-8") as file:
        cases = json.load(file)

    for case in cases:
        a, b = Polygon(case["a"]), Polygon(case["b"])
        points = np.array(case["a"])
        probe = Point(case["probe"])

        def compare(name, expected, slack):
            nonlocal wrong, compared
            compared += 1
            if not abs(case[name] - expected) <= slack:
                wrong += 1
                print(f"seed {case['seed']}: {name} is {case[name]!r}, the library has {expected!r}")

        if not a.is_valid or not b.is_valid:
            compare("simple", float(a.is_valid), 0)
            continue
        compare("simple", 1, 0)
        compare("area", a.area, 1e-8)
        compare("perimeter", a.exterior.length, 1e-9)
        compare("centroid_x", a.centroid.x, 1e-9)
        compare("centroid_y", a.centroid.y, 1e-9)
        compare("hull_area", a.convex_hull.area, 1e-8)
        least, greatest = widths(points)
        compare("width_least", least, 1e-9)
        compare("width_greatest", greatest, 1e-9)
        compare("holds_probe", float(a.contains(probe)), 0)
        compare("probe_distance", a.exterior.distance(probe), 1e-10)
        compare("distance", a.exterior.distance(b.exterior), 1e-10)
        # Clipping on a grid of 1 part in 5e8: error perimeter x step.
        compare("common_area", a.intersection(b).area, 1e-2)
        grown = a.buffer(15, resolution=256)
        compare("offset_area", Polygon(grown.exterior).area, 1e-4 * 15 * a.exterior.length)
        for name, value in zip(["circle_x", "circle_y", "circle_r"], fitted_circle(points)):
            compare(name, value, 1e-5)
        compare("enclosing_r", enclosing_radius(points), 1e-5)
        # polylabel finds the radius to its tolerance from below.
        label = polylabel(a, tolerance=1e-4)
        compare("inscribed_r", a.exterior.distance(label) + 0.5e-4, 0.51e-4)

    if compared < 500:
        print(f"only {compared} comparisons were made")
        wrong += 1
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
