#!/usr/bin/python3
"""True values of lengthwise rows against a part whose geometry is known in closed form.

Two rows of eight turns, pitch 30, circles of diameter 10, in walls 40 thick; all turned by 20 degrees.
"""

import math
import unittest

import numpy as np

from rows_truth import is_lengthwise, rows_of

PITCH, SIZE, TURNS, WALL, HEIGHT, LENGTH = 30.0, 10.0, 8, 40.0, 200.0, 300.0
TURN = math.radians(20)


def turned(points):
    c, s = math.cos(TURN), math.sin(TURN)
    return (np.asarray(points, float) @ np.array([[c, s], [-s, c]]) + [400, 300]).tolist()


def rectangle(width, height):
    return turned([[-width / 2, -height / 2], [width / 2, -height / 2], [width / 2, height / 2],
                   [-width / 2, height / 2]])


def wire(no, x, y):
    angles = np.arange(240) * 2 * math.pi / 240
    ring = np.column_stack([x + SIZE / 2 * np.cos(angles), y + SIZE / 2 * np.sin(angles)])
    return {"layer": "coil", "no": no, "family": 0, "state": "wire", "centre_px": turned([[x, y]])[0],
            "displaced": False, "touching": False, "exposed_to": "", "contour_px": turned(ring)}


def make_truth():
    y = HEIGHT / 2 - WALL / 2
    wires = [wire(i + 1, -120 + PITCH * i, -y) for i in range(TURNS)]
    wires += [wire(TURNS + i + 1, -105 + PITCH * i, y) for i in range(TURNS)]
    return {"outline": {"contour_px": rectangle(LENGTH, HEIGHT)},
            "lumens": {"bore": {"contour_px": rectangle(LENGTH - 4, HEIGHT - 2 * WALL)}},
            "wires": wires,
            "wire_layers": [{"name": "coil", "expected": 2 * TURNS, "pitch_px": PITCH}]}


class RowsTest(unittest.TestCase):
    def values(self, change=lambda wires: None):
        truth = make_truth()
        change(truth["wires"])
        return rows_of(truth, truth["wire_layers"][0])

    def test_even_rows(self):
        got = self.values()
        for word, want in (("pitch", PITCH), ("pitch_min", PITCH), ("pitch_max", PITCH),
                           ("count", 2 * TURNS), ("layer_diameter", HEIGHT - WALL),
                           ("outer_cover", (WALL - SIZE) / 2), ("inner_cover", (WALL - SIZE) / 2),
                           ("coverage", 100 * SIZE / PITCH)):
            self.assertAlmostEqual(got[word], want, delta=2e-3, msg=word)

    def test_the_ends_of_the_sample_are_no_wall(self):
        def near_the_end(wires):
            wires[0].update(wire(1, -LENGTH / 2 + SIZE / 2 + 1, -(HEIGHT - WALL) / 2))
            wires[0]["displaced"] = True
        got = self.values(near_the_end)
        self.assertAlmostEqual(got["outer_cover"], (WALL - SIZE) / 2, delta=2e-3)
        self.assertAlmostEqual(got["pitch"], PITCH, delta=1e-6)

    def test_a_missing_turn_is_neither_counted_nor_bridged(self):
        def lose(wires):
            wires[3]["state"] = "missing"
        got = self.values(lose)
        self.assertEqual(got["count"], 2 * TURNS - 1)
        self.assertAlmostEqual(got["pitch_max"], PITCH, delta=1e-6)

    def test_the_least_cover_is_that_of_the_wire_that_lies_off(self):
        def shift(wires):
            wires[5].update(wire(6, -120 + PITCH * 5, -(HEIGHT - WALL) / 2 - 3))
        got = self.values(shift)
        self.assertAlmostEqual(got["outer_cover"], (WALL - SIZE) / 2 - 3, delta=2e-3)
        self.assertAlmostEqual(got["by_wire"][("inner_cover", 6)], (WALL - SIZE) / 2 + 3, delta=2e-3)

    def test_only_layers_with_a_pitch_are_lengthwise(self):
        self.assertTrue(is_lengthwise(make_truth()))
        self.assertFalse(is_lengthwise({"wire_layers": [{"name": "braid"}]}))
        self.assertFalse(is_lengthwise({}))


if __name__ == "__main__":
    unittest.main()
