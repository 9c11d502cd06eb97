"""A bright pin of 1200 um in dark resin, 2.5 um per px: closed form of a disc blurred by 1 px."""
import pathlib

import numpy as np
from PIL import Image
from scipy.special import erf

y, x = np.mgrid[0:600, 0:800].astype(float)
radius = np.hypot(x - 402.3, y - 296.8)
light = 0.2 + 0.5 * (1 - erf((radius - 240.0) / np.sqrt(2))) / 2
light += np.random.default_rng(4).normal(0, 0.01, light.shape)
Image.fromarray(np.rint(255 * np.clip(light, 0, 1)).astype(np.uint8)).save("pin.png")
pathlib.Path("bench.calibration.json").write_text("""{"format": "cutface/calibration", "version": 1, "id": "bench",
 "image_size_px": [800, 600], "pixel_pitch_um": [2.5, 2.5], "pitch_u_um": [0.0005, 0.0005], "gamma": 1.0,
 "made": "2026-03-02", "due": "2026-09-02", "artefact": {"kind": "stage micrometer", "certificate": "C-9"}}""",
                                                  encoding="utf-8")
