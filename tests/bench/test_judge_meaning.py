#!/usr/bin/python3
"""The judge of meanings against closed forms: flow of ducts, inscribed circles, ways through voids."""

import unittest

import numpy as np
from shapely.geometry import Point, Polygon

from judge_meaning import flow_k, inscribed, ways


def ellipse(ratio, corners=1440):
    t = np.linspace(0, 2 * np.pi, corners + 1)[:-1]
    return Polygon(np.stack([np.cos(t), ratio * np.sin(t)], 1))


class Judge(unittest.TestCase):
    def test_flow_of_ducts_is_that_of_shah_and_london(self):
        for ratio, k in ((1, 0.3926991), (0.8, 0.2451975), (0.5, 0.0785398), (0.25, 0.0115500)):
            self.assertAlmostEqual(flow_k(ellipse(ratio)) / k, 1, delta=1e-3)
        for width, k in ((1, 0.035144), (2, 2 * 0.057170), (4, 4 * 0.070203)):
            shape = Polygon([(0, 0), (width, 0), (width, 1), (0, 1)])
            self.assertAlmostEqual(flow_k(shape) / k, 1, delta=1e-3)
        half = np.linspace(0, np.pi, 721)
        shape = Polygon(np.stack([np.cos(half), np.sin(half)], 1))
        self.assertAlmostEqual(flow_k(shape) / 7.4389196e-2, 1, delta=1e-3)

    def test_inscribed_circle(self):
        self.assertAlmostEqual(inscribed(ellipse(0.5)), 1, delta=1e-4)

    def test_way_through_voids(self):
        first, second = Point(0, 0).buffer(10, 64), Point(60, 0).buffer(10, 64)
        voids = [Point(25, 0).buffer(5, 64), Point(30, 30).buffer(5, 64)]
        best, direct, via, second_best = ways(first, second, [], voids)
        self.assertAlmostEqual(direct, 40, delta=0.02)
        self.assertAlmostEqual(best[0], 30, delta=0.02)
        self.assertEqual(best[1], [0])
        self.assertAlmostEqual(via[0], 30, delta=0.02)
        self.assertAlmostEqual(second_best, 40, delta=0.02)

    def test_another_lumen_is_no_way(self):
        first, second = Point(0, 0).buffer(10), Point(60, 0).buffer(10)
        best, direct, _, _ = ways(first, second, [Point(30, 0).buffer(8)], [])
        self.assertFalse(np.isfinite(direct))
        self.assertFalse(np.isfinite(best[0]))


if __name__ == "__main__":
    unittest.main()
