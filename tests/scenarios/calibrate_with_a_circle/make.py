"""A bright certified circle of 1200 um on dark ground, 2.5 by 2.52 um per px: closed form of a disc blurred by 1 px."""
import numpy as np
from PIL import Image
from scipy.special import erf

y, x = np.mgrid[0:600, 0:800].astype(float)
radius = np.hypot((x - 402.3) * 2.5, (y - 296.8) * 2.52)
light = 0.2 + 0.5 * (1 - erf((radius - 600.0) / 2.51 / np.sqrt(2))) / 2
light += np.random.default_rng(4).normal(0, 0.01, light.shape)
Image.fromarray(np.rint(255 * np.clip(light, 0, 1)).astype(np.uint8)).save("circle.png")
