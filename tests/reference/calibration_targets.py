#!/usr/bin/env python3
"""Line scales drawn by numpy, their period by scipy's Fourier transform, and by `cutface calibrate`.

usage: calibration_targets.py [--cutface PROGRAM] [--images FOLDER] [--write-12mp FILE]

Three ways to one pitch that share no code: the geometry that the picture was drawn with, the peak of
the spectrum of the mean tone across the lines (zero-padded, parabola through the peak's logarithm;
scipy.fft), and the program's record. FOLDER may hold `targets` with real pictures that are no even
targets (a printed dot grid in perspective, by BoofCV-Data, CC BY 4.0; a chrome bar target scanned,
LAB-UMK/usaf1951, MIT): the program has to refuse them, not to give a pitch. They are not part of
this project; without them that part says so.
"""
import argparse
import json
import math
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
import scipy.fft
from PIL import Image
from scipy.special import erf

ROOT = pathlib.Path(__file__).resolve().parents[2]
GOAL = 5e-4          # the program against the truth: 0.05 % (95th percentile asked for)
SPECTRUM = 1e-3      # the spectrum's peak against the truth
MARK = 0.001         # of ASTM B487: lines known to 0.1 %


def draw(pitch_um, division_um, angle_deg, size, seed, gamma=1.0, dark=True):
    """Bars of a third of the division, blurred by 1.1 px; closed form."""
    width, height = size
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    angle = math.radians(angle_deg)
    across = ((x - width / 2) * math.cos(angle) + (y - height / 2) * math.sin(angle)) * pitch_um
    sigma = 1.1 * pitch_um * math.sqrt(2)
    off = across - division_um * np.rint(across / division_um)
    bar = division_um / 6
    share = (erf((off + bar) / sigma) - erf((off - bar) / sigma)) / 2
    light = 0.75 - 0.6 * share if dark else 0.12 + 0.6 * share
    light = light * (1 - 0.2 * x / width)
    light += np.random.default_rng(seed).normal(0, 0.01, light.shape)
    return np.rint(255 * np.clip(light, 0, 1) ** (1 / gamma)).astype(np.uint8)


def spectrum_period(tone):
    """Period along x in px of lines that stand nearly upright: mean of the peaks of bands of rows."""
    rows, columns = tone.shape
    periods = []
    for top in range(0, rows - 7, 8):
        line = tone[top:top + 8].mean(axis=0)
        line = line - np.polyval(np.polyfit(np.arange(columns), line, 2), np.arange(columns))
        size = 16 * columns
        power = np.abs(scipy.fft.rfft(line * np.hanning(columns), size))
        low = size // 200
        peak = low + int(np.argmax(power[low:size // 4]))
        a, b, c = np.log(power[peak - 1:peak + 2])
        periods.append(size / (peak + 0.5 * (a - c) / (a - 2 * b + c)))
    return float(np.median(periods))


def calibrate(program, picture, folder, division, extra=()):
    out = folder / f"{picture.stem}.calibration.json"
    run = subprocess.run([program, "calibrate", picture, "--artefact", "stage micrometer", "--division", division,
                          "--by", "reference", "--out", out, *extra], capture_output=True, text=True, check=False)
    return (json.loads(out.read_text(encoding="utf-8")) if run.returncode == 0 else None), run


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cutface", default=ROOT / "build/dev/src/cli/cutface", type=pathlib.Path)
    parser.add_argument("--images", default=ROOT.parent / "shared" / "real-images", type=pathlib.Path)
    parser.add_argument("--write-12mp", type=pathlib.Path, metavar="FILE",
                        help="only writes a line scale of 4000 x 3000 px, for the bench's cost")
    args = parser.parse_args()
    if args.write_12mp:
        Image.fromarray(draw(2.4, 50, 1.0, (4000, 3000), 1)).save(args.write_12mp)
        return 0
    wrong = []
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        cases = [(2.4, 50, 0.4, 1.0, True), (0.8123, 10, -2.0, 1.0, True), (3.1, 100, 1.2, 2.0, True),
                 (1.27, 25.4, 3.0, 1.5, False), (2.0, 20, -0.7, 1.0, False), (0.5, 10, 5.0, 2.2, True)]
        for k, (pitch, division, angle, gamma, dark) in enumerate(cases):
            tone = draw(pitch, division, angle, (1400, 500), k, gamma, dark)
            picture = folder / f"scale-{k}.png"
            Image.fromarray(tone).save(picture)
            record, run = calibrate(args.cutface, picture, folder, f"{division}um", ("--square-pixels", "0.0001"))
            if record is None:
                wrong.append(f"{picture.name}: {run.stderr.strip()}")
                continue
            told, u = record["pixel_pitch_um"][0], record["pitch_u_um"][0]
            # Along x the lines stand division / (pitch cos angle) apart.
            by_spectrum = division / (spectrum_period(tone) * math.cos(math.radians(angle)))
            seen_gamma = record.get("gamma")
            print(f"{pitch:.5g} um: record {told:.6g} ({100 * (told / pitch - 1):+.4f} %, u {100 * u / told:.4f} %), "
                  f"spectrum {by_spectrum:.6g} ({100 * (by_spectrum / pitch - 1):+.4f} %), gamma {gamma} "
                  f"told {seen_gamma}")
            if abs(told / pitch - 1) > GOAL:
                wrong.append(f"{picture.name}: record {told} against {pitch}")
            if abs(by_spectrum / pitch - 1) > SPECTRUM or abs(by_spectrum / told - 1) > MARK:
                wrong.append(f"{picture.name}: spectrum {by_spectrum} against {pitch} and {told}")
            if seen_gamma is not None and abs(seen_gamma - gamma) > max(3 * record["gamma_u"], 0.05):
                wrong.append(f"{picture.name}: gamma {seen_gamma} against {gamma}")
        targets = args.images / "targets"
        if targets.is_dir():
            for file, kind in (("dotgrid_regular_00001.jpg", "dot grid"), ("dotgrid_regular_00005.jpg", "dot grid"),
                               ("usaf1951_scan3_16bit.tif", "line scale")):
                record, run = calibrate(args.cutface, targets / file, folder, "198.4um", ("--target", kind))
                print(f"{file}: {run.stderr.strip()}")
                if record is not None or len(run.stderr.strip().splitlines()) != 1:
                    wrong.append(f"{file}: not refused in one line")
        else:
            print("no real targets here: that part is skipped")
    for line in wrong:
        print("WRONG", line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
