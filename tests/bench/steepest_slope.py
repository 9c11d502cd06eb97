#!/usr/bin/python3
"""How hard a folder of faces is: edges at their steepest slope, started from the true contours.

    steepest_slope.py DIR...

Tones are sampled along the normals of every whole, open lumen's true contour, averaged over the contour, and
the edge is taken where that profile changes fastest, and where it passes half way. Prints the share of
diameters that come out within half and a quarter of a pixel, by light: what an edge without a model could
reach at best.
"""

import argparse
import os
from collections import defaultdict

import numpy as np
from scipy.ndimage import gaussian_filter1d, map_coordinates
from skimage.io import imread

from faces import find_faces

REACH_PX, STEP_PX, SMOOTH_PX = 8.0, 0.1, 0.3
NEAR_PX = 5.0  # the edge is looked for this far from the truth
END_PX = 2.5   # levels are taken from the profile's ends


def outward_normals(contour):
    along = np.roll(contour, -1, axis=0) - np.roll(contour, 1, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    normals = np.stack([along[:, 1], -along[:, 0]], axis=1)
    x, y = contour.T
    area = 0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return normals if area > 0 else -normals


def edge_errors(image, contour):
    """Errors in diameter (px) of the steepest slope and of the half level."""
    s = np.arange(-REACH_PX, REACH_PX + STEP_PX / 2, STEP_PX)
    normals = outward_normals(contour)
    profile = np.array([
        map_coordinates(image, [contour[:, 1] + d * normals[:, 1], contour[:, 0] + d * normals[:, 0]],
                        order=1, mode="nearest").mean() for d in s])
    slope = np.abs(np.gradient(gaussian_filter1d(profile, SMOOTH_PX / STEP_PX)))
    steepest = s[np.argmax(np.where(np.abs(s) < NEAR_PX, slope, 0))]
    ends = int(END_PX / STEP_PX)
    middle = 0.5 * (profile[:ends].mean() + profile[-ends:].mean())
    crossings = s[:-1][(profile[:-1] - middle) * (profile[1:] - middle) <= 0]
    half = crossings[np.argmin(np.abs(crossings - steepest))] if len(crossings) else np.inf
    return 2 * steepest, 2 * half


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    by_light = defaultdict(list)
    for folder, name, truth in find_faces(parser.parse_args().folders):
        image = imread(os.path.join(folder, truth.get("image", name + ".png"))).astype(float)
        for lumen in truth["lumens"].values():
            if lumen["state"] != "open" or not lumen["whole"]:
                continue
            errors = edge_errors(image, np.array(lumen["contour_px"], dtype=float))
            by_light[truth["light"]].append(errors)
            by_light["all"].append(errors)
    print(f"{'light':12s} {'lumens':>6s}  {'steepest < 0.5':>14s} {'< 0.25 px':>9s}  {'half level < 0.5':>16s}")
    for light, errors in sorted(by_light.items()):
        steepest, half = np.abs(np.array(errors)).T
        print(f"{light:12s} {len(errors):6d}  {np.mean(steepest < 0.5):14.1%} "
              f"{np.mean(steepest < 0.25):9.1%}  {np.mean(half < 0.5):16.1%}")


if __name__ == "__main__":
    main()
