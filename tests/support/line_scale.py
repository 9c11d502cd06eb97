"""Renders a stage micrometer of exactly known geometry as a grey PNG. Shares no code with the program.

usage: line_scale.py OUT --size 800x600 --pitch 2.5 [--pitch-y 2.5] [--division 50] [--angle 0] [--gamma 1]
                     [--noise 0.01] [--seed 1] [--lines 41] [--fall 0.2] [--blank]

Dark lines `division` um apart across the direction `angle` (degrees, +x towards +y), every fifth and tenth
longer; each pixel holds the closed form of a bar blurred by a Gaussian (blur 1 px, scipy's erf). `--blank` leaves
the lines out. `--fall` is the share of light that is missing at the far corner.
"""
import argparse

import numpy as np
from PIL import Image
from scipy.special import erf


def render(size, pitch, pitch_y, division, angle, gamma, noise, seed, lines, length, fall, blank):
    width, height = size
    x, y = np.meshgrid(np.arange(width, dtype=float), np.arange(height, dtype=float))
    ux = (x - (width - 1) / 2) * pitch
    uy = (y - (height - 1) / 2) * pitch_y
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    along, across = c * ux + s * uy, -s * ux + c * uy
    blur = np.sqrt(pitch * pitch_y)

    def inside(position, half):
        return (erf((position + half) / (np.sqrt(2) * blur)) - erf((position - half) / (np.sqrt(2) * blur))) / 2

    dark = np.zeros_like(ux)
    for number in range(lines):
        reach = length * (2.0 if number % 10 == 0 else 1.5 if number % 5 == 0 else 1.0)
        place = (number - (lines - 1) / 2) * division
        # Lines begin on one side, as on a rule.
        dark += inside(along - place, 0.1 * division) * inside(across - (reach - length) / 2, reach / 2)
    light = 0.8 - (0 if blank else 0.7) * np.clip(dark, 0, 1)
    far = np.hypot(x / width, y / height) / np.sqrt(2)
    light *= 1 - fall * far * far
    tone = light ** (1 / gamma) + np.random.default_rng(seed).normal(0, noise, light.shape)
    return np.rint(255 * np.clip(tone, 0, 1)).astype(np.uint8)


def main(words=None):
    parser = argparse.ArgumentParser()
    parser.add_argument("out")
    parser.add_argument("--size", default="800x600")
    parser.add_argument("--pitch", type=float, default=2.5)
    parser.add_argument("--pitch-y", type=float)
    parser.add_argument("--division", type=float, default=50.0)
    parser.add_argument("--angle", type=float, default=0.0)
    parser.add_argument("--gamma", type=float, default=1.0)
    parser.add_argument("--noise", type=float, default=0.01)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--lines", type=int, default=31)
    parser.add_argument("--length", type=float, default=300.0)  # of an ordinary line, um
    parser.add_argument("--fall", type=float, default=0.1)
    parser.add_argument("--blank", action="store_true")
    a = parser.parse_args(words)
    size = tuple(int(n) for n in a.size.split("x"))
    Image.fromarray(render(size, a.pitch, a.pitch_y or a.pitch, a.division, a.angle, a.gamma, a.noise, a.seed, a.lines, a.length,
                           a.fall, a.blank)).save(a.out)


if __name__ == "__main__":
    main()
