"""A small drawing and record, and a check of that record with a potted pin through the program itself: a bright
pin of 600 um in dark resin, 2 um per px, closed form of a disc blurred by 1 px."""
import json
import pathlib
import subprocess
import sys

import numpy as np
from PIL import Image
from scipy.special import erf

design = {"format": "cutface/design", "version": 1, "units": "mm", "part": {"number": "T-1"}, "sections": {"face": {
    "kind": "shaft", "outline": {"circle": {"diameter": 0.70}}, "lumens": {
        "a": {"circle": {"center": [0.0, 0.14], "diameter": 0.26}}, "b": {"circle": {"center": [0.12, -0.15], "diameter": 0.12}}}}}}
record = {"format": "cutface/calibration", "version": 1, "id": "bench", "image_size_px": [480, 400],
          "pixel_pitch_um": [2.0, 2.0], "pitch_u_um": [0.002, 0.002], "gamma": 1.0, "made": "2026-03-02", "due": "2026-09-02",
          "artefact": {"kind": "stage micrometer", "certificate": "C-9"}}
pathlib.Path("site.design.json").write_text(json.dumps(design))
pathlib.Path("site.calibration.json").write_text(json.dumps(record))
y, x = np.mgrid[0:400, 0:480].astype(float)
radius = np.hypot(x - 241.3, y - 198.6)
light = 0.2 + 0.5 * (1 - erf((radius - 150.0) / np.sqrt(2))) / 2
light += np.random.default_rng(4).normal(0, 0.01, light.shape)
Image.fromarray(np.rint(255 * np.clip(light, 0, 1)).astype(np.uint8)).save("pin.png")
subprocess.run([sys.argv[1], "check", "pin.png", "--target", "pin", "--diameter", "0.6mm", "--u", "0.2um", "--serial-number", "P-7",
                "--certificate", "P-7", "--by", "desk", "--calibration", "site.calibration.json", "--taken", "2026-04-01T08:00"],
               check=True, stdout=subprocess.DEVNULL)
pathlib.Path("pin.png").unlink()
