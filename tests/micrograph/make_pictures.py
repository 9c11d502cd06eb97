"""Writes pictures of every kind that is read, with other people's writers, and beside each the
tones it must give.

usage: make_pictures.py FOLDER

For each file F: F.green.raw (rows of uint8 or little-endian uint16) as it was before writing. The
list cases.txt has one line a file: name width height bits colour. Files that Pillow can read are read
back with it and compared here, so that the truth does not hang on one writer.
"""
import os
import struct
import sys
import zlib

import numpy as np
import tifffile
from PIL import Image

out = sys.argv[1]
os.makedirs(out, exist_ok=True)
rng = np.random.default_rng(20260302)
W, H = 53, 37
cases = []


def path(name):
    return os.path.join(out, name)


def note(name, green, bits, colour, read_back=True):
    """Records what `name` must give: `green` is the array of tones."""
    green = np.asarray(green)
    assert green.ndim == 2, name
    dtype = np.uint8 if bits <= 8 else np.dtype("<u2")
    with open(path(name) + ".green.raw", "wb") as file:
        file.write(np.ascontiguousarray(green.astype(dtype)).tobytes())
    cases.append(f"{name} {green.shape[1]} {green.shape[0]} {bits} {int(colour)}")
    if read_back:
        image = Image.open(path(name))
        image.load()
        if image.mode == "P":
            image = image.convert("RGB")
        if image.mode == "1":
            image = image.convert("L")
        seen = np.array(image)
        if seen.ndim == 3:
            seen = seen[..., 1] if seen.shape[2] >= 3 else seen[..., 0]
        assert seen.shape == green.shape and (seen == green).all(), f"Pillow disagrees on {name}"


def blob(height=H, width=W, greatest=255):
    """Structure with noise: smooth parts exercise filters and run lengths."""
    y, x = np.mgrid[0:height, 0:width]
    smooth = 0.5 + 0.45 * np.sin(x / 7.0) * np.cos(y / 5.0)
    noisy = smooth + rng.normal(0, 0.03, smooth.shape) * (x > width // 2)
    return np.clip(noisy * greatest, 0, greatest).astype(np.uint8 if greatest < 256 else np.uint16)


def rgb(height=H, width=W, greatest=255):
    return np.dstack([blob(height, width, greatest) for _ in range(3)])


# --- PNG, any kind of the specification: written here, because no library at hand writes them all ---

ADAM7 = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def pack_rows(samples, depth):
    """Rows of an array (height, width, channels) as PNG packs them, each behind filter type 0."""
    height, width, channels = samples.shape
    lines = []
    for row in samples.reshape(height, width * channels):
        if depth == 16:
            data = row.astype(">u2").tobytes()
        elif depth == 8:
            data = row.astype(np.uint8).tobytes()
        else:
            bits = ((row[:, None].astype(np.uint8) >> np.arange(depth - 1, -1, -1)) & 1).ravel()
            data = np.packbits(bits).tobytes()
        lines.append(b"\0" + data)
    return b"".join(lines)


def png(samples, depth, colour_type, interlaced=False, before=b"", after=b""):
    samples = samples if samples.ndim == 3 else samples[..., None]
    height, width = samples.shape[:2]
    if interlaced:
        raw = b"".join(pack_rows(samples[y0::dy, x0::dx], depth) for x0, y0, dx, dy in ADAM7
                       if samples[y0::dy, x0::dx].size)
    else:
        raw = pack_rows(samples, depth)
    header = struct.pack(">IIBBBBB", width, height, depth, colour_type, 0, 0, int(interlaced))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + before +
            chunk(b"IDAT", zlib.compress(raw)) + after + chunk(b"IEND", b""))


def write(name, data):
    with open(path(name), "wb") as file:
        file.write(data)


def make_png():
    palette = rng.integers(0, 256, (256, 3)).astype(np.uint8)
    for interlaced in (False, True):
        way = "-adam7" if interlaced else ""
        for depth in (1, 2, 4, 8, 16):
            top = 2 ** depth - 1
            grey = blob(greatest=top)
            name = f"grey{depth}{way}.png"
            write(name, png(grey, depth, 0, interlaced))
            # Pillow shows 1 bit as 0 and 255 and 16 bit as they are; it stretches 2 and 4 bit.
            tones = grey if depth == 16 else grey.astype(int) * (255 // top)
            note(name, tones, 8 if depth <= 8 else 16, False)
            if depth <= 8:
                name = f"palette{depth}{way}.png"
                entries = palette[:top + 1]
                write(name, png(grey, depth, 3, interlaced, chunk(b"PLTE", entries.tobytes())))
                note(name, entries[grey][..., 1], 8, True)
            if depth >= 8:
                bits = depth
                alpha = blob(greatest=top)
                colours = rgb(greatest=top)
                # Pillow cuts 16-bit colour to 8 bit, so it cannot be asked there.
                same = depth == 8
                name = f"greyalpha{depth}{way}.png"
                write(name, png(np.dstack([grey, alpha]), depth, 4, interlaced))
                note(name, grey, bits, False, same)
                name = f"rgb{depth}{way}.png"
                write(name, png(colours, depth, 2, interlaced))
                note(name, colours[..., 1], bits, True, same)
                name = f"rgba{depth}{way}.png"
                write(name, png(np.dstack([colours, alpha]), depth, 6, interlaced))
                note(name, colours[..., 1], bits, True, same)
    for width, height in ((1, 1), (1, 9), (9, 1), (3, 2)):
        for interlaced in (False, True):
            tiny = blob(height, width)
            name = f"tiny{width}x{height}{'-adam7' if interlaced else ''}.png"
            write(name, png(tiny, 8, 0, interlaced))
            note(name, tiny, 8, False)
    # Pillow's own writer: all row filters, several data chunks.
    big = blob(300, 400)
    Image.fromarray(big).save(path("filters.png"))
    note("filters.png", big, 8, False)
    colours = rgb(300, 400)
    Image.fromarray(colours).save(path("filters-rgb.png"))
    note("filters-rgb.png", colours[..., 1], 8, True)


make_png()
with open(path("cases.txt"), "w") as file:
    file.write("\n".join(cases) + "\n")
