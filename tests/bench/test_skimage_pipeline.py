#!/usr/bin/python3
"""The baseline does its job on an easy face: else being ahead of it would mean nothing.

The picture is drawn from signed distances to circles (a blurred straight edge is a normal integral; for
the radii here the curvature moves it by less than 0.03 px), without any of the phantom's code.
"""

import json
import os
import tempfile
import unittest

import numpy as np
from scipy.stats import norm
from skimage import io

import fixture
import score
import skimage_pipeline

BLUR_PX = 1.3


def disc(shape, x, y, r):
    """Share of light of a blurred disc."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    return norm.cdf((r - np.hypot(columns - x, rows - y)) / BLUR_PX)


def draw(ground, body, bore, hole):
    picture = np.full((900, 1200), ground)
    x, y = fixture.CENTRE
    discs = [(0, 0, fixture.RADIUS, body)]
    discs += [(*circle, bore) for circle in fixture.UNLIKE.values()]
    discs += [(u, v, d / 2, hole) for u, v, d in fixture.VOIDS]
    for u, v, r, tone in discs:
        share = disc(picture.shape, x + u, y + v, r)
        picture = picture * (1 - share) + tone * share
    noise = np.random.default_rng(7).normal(0, 0.01, picture.shape)
    return np.clip((picture + noise) * 255 + 0.5, 0, 255).astype(np.uint8)


class PipelineTest(unittest.TestCase):
    def check(self, *tones):
        with tempfile.TemporaryDirectory() as folder:
            truth = fixture.make_truth(fixture.UNLIKE, fixture.VOIDS)
            stem = os.path.join(folder, "f")
            calibration = {"pixel_pitch_um": [fixture.RECORD_PITCH] * 2,
                           "image_size_px": [1200, 900]}
            for ending, data in (("truth", truth), ("calibration", calibration),
                                 ("design", fixture.make_design(fixture.UNLIKE))):
                with open(f"{stem}.{ending}.json", "w", encoding="utf-8") as file:
                    json.dump(data, file)
            io.imsave(stem + ".png", draw(*tones), check_contrast=False)
            result = skimage_pipeline.measure_face(stem, stem + ".png", "face")
            os.mkdir(os.path.join(folder, "skimage"))
            path = os.path.join(folder, "skimage", "f.result.json")
            with open(path, "w", encoding="utf-8") as file:
                json.dump(result, file)
            found = score.score([folder], "skimage")
            figures = found["sets"]["plain"]
            self.assertEqual(found["faces"][0]["reasons"], [])
            for key in ("diameter_025", "large_recall", "large_precision", "small_recall"):
                self.assertEqual(figures[key], 1.0, key)
            for key in ("septum_median", "wall_median"):
                self.assertLess(figures[key], 0.15, key)

    def test_empty_lumens_in_reflected_light(self):
        self.check(0.30, 0.60, 0.06, 0.08)

    def test_lumens_filled_with_the_ground_s_tone(self):
        self.check(0.25, 0.60, 0.25, 0.08)

    def test_weak_contrast(self):
        self.check(0.45, 0.57, 0.45, 0.30)

    def test_bright_lumens_in_transmitted_light(self):
        self.check(0.90, 0.50, 0.90, 0.85)


if __name__ == "__main__":
    unittest.main()
