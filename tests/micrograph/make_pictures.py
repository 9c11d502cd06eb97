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


# --- JPEG, BMP, TIFF ---


def make_jpeg():
    grey, colours = blob(210, 333), rgb(210, 333)
    for name, image, options in (
            ("grey.jpg", grey, {"quality": 90}),
            ("grey-progressive.jpg", grey, {"quality": 75, "progressive": True}),
            ("rgb-444.jpg", colours, {"quality": 92, "subsampling": 0}),
            ("rgb-420.jpg", colours, {"quality": 80, "subsampling": 2}),
            ("rgb-progressive.jpg", colours, {"quality": 80, "progressive": True, "optimize": True})):
        Image.fromarray(image).save(path(name), **options)
        # JPEG loses: the truth is what another program decodes.
        seen = np.array(Image.open(path(name)))
        assert np.abs(seen.astype(int) - image).mean() < 12, name
        note(name, seen[..., 1] if seen.ndim == 3 else seen, 8, seen.ndim == 3)


def make_bmp():
    grey, colours = blob(41, 57), rgb(41, 57)
    Image.fromarray(grey).save(path("grey8.bmp"))
    note("grey8.bmp", grey, 8, False)
    Image.fromarray(colours).save(path("rgb24.bmp"))
    note("rgb24.bmp", colours[..., 1], 8, True)
    Image.fromarray(np.dstack([colours, grey])).save(path("rgba32.bmp"))
    note("rgba32.bmp", colours[..., 1], 8, True)
    Image.fromarray(grey > 127).save(path("bit1.bmp"))
    note("bit1.bmp", np.where(grey > 127, 255, 0), 8, False)
    palette = Image.fromarray(colours).quantize(16)
    palette.save(path("palette.bmp"))
    note("palette.bmp", np.array(palette.convert("RGB"))[..., 1], 8, True)
    # The same rows from the top down, and 16-bit pixels: headers of our own.
    raw = b"".join(row.tobytes() + b"\0" * (-row.size % 4) for row in colours[..., ::-1].reshape(41, -1))
    header = struct.pack("<IiiHHIIiiII", 40, 57, -41, 1, 24, 0, len(raw), 0, 0, 0, 0)
    write("topdown.bmp", b"BM" + struct.pack("<IHHI", 54 + len(raw), 0, 0, 54) + header + raw)
    note("topdown.bmp", colours[..., 1], 8, True)
    five = colours >> 3
    words = (five[..., 0].astype("<u2") << 10) | (five[..., 1].astype("<u2") << 5) | five[..., 2]
    raw = b"".join(row.tobytes() + b"\0" * (-row.nbytes % 4) for row in words[::-1].astype("<u2"))
    header = struct.pack("<IiiHHIIiiII", 40, 57, 41, 1, 16, 0, len(raw), 0, 0, 0, 0)
    write("rgb555.bmp", b"BM" + struct.pack("<IHHI", 54 + len(raw), 0, 0, 54) + header + raw)
    note("rgb555.bmp", np.rint(five[..., 1].astype(int) * 255 / 31), 8, True, False)


def tiff12(samples):
    """A little-endian TIFF of 12-bit samples packed without gaps (TIFF 6.0), one strip."""
    height, width = samples.shape
    bits = ((samples[..., None] >> np.arange(11, -1, -1)) & 1).astype(np.uint8)
    data = b"".join(np.packbits(row.ravel()).tobytes() for row in bits)
    entries = [(256, 3, 1, width), (257, 3, 1, height), (258, 3, 1, 12), (259, 3, 1, 1), (262, 3, 1, 1),
               (273, 4, 1, 8), (277, 3, 1, 1), (278, 3, 1, height), (279, 4, 1, len(data))]
    data += b"\0" * (len(data) % 2)
    ifd = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *e) for e in entries)
    return b"II*\0" + struct.pack("<I", 8 + len(data)) + data + ifd + b"\0\0\0\0"


def make_tiff():
    grey, colours = blob(75, 103), rgb(75, 103)
    grey16, colours16 = blob(75, 103, 65535), rgb(75, 103, 65535)
    for packing in ("raw", "tiff_lzw", "tiff_deflate", "tiff_adobe_deflate", "packbits"):
        for kind, image in (("grey", grey), ("rgb", colours)):
            name = f"{kind}-{packing}.tif"
            Image.fromarray(image).save(path(name), compression=packing)
            note(name, image[..., 1] if image.ndim == 3 else image, 8, image.ndim == 3)
        name = f"grey16-{packing}.tif"
        Image.fromarray(grey16.astype(np.int32), "I").convert("I;16").save(path(name), compression=packing)
        note(name, grey16, 16, False)
        name = f"bit1-{packing}.tif"
        Image.fromarray(grey > 127).save(path(name), compression=packing)
        note(name, np.where(grey > 127, 255, 0), 8, False)
    # JPEG in TIFF (TIFF Technical Note 2): the truth is what another program decodes.
    for name, image, mode in (("grey-jpeg.tif", grey, "L"), ("rgb-jpeg.tif", colours, "RGB"),
                              ("ycbcr-jpeg.tif", colours, "YCbCr")):
        Image.fromarray(image).convert(mode).save(path(name), compression="jpeg", quality=90)
        kind = {"L": 1, "RGB": 2, "YCbCr": 6}[mode]
        assert Image.open(path(name)).tag_v2[262] == kind, name
        seen = np.array(Image.open(path(name)).convert("L" if image.ndim == 2 else "RGB"))
        assert np.abs(seen.astype(int) - image).mean() < 12, name
        note(name, seen[..., 1] if seen.ndim == 3 else seen, 8, seen.ndim == 3)
    palette = Image.fromarray(colours).quantize(200)
    palette.save(path("palette.tif"))
    note("palette.tif", np.array(palette.convert("RGB"))[..., 1], 8, True)
    Image.fromarray(np.dstack([colours, grey])).save(path("rgba.tif"))
    note("rgba.tif", colours[..., 1], 8, True)

    for layout, options in (("strips", {"rowsperstrip": 8}), ("onestrip", {}), ("tiles", {"tile": (32, 48)}),
                            ("tiles-zlib", {"tile": (16, 16), "compression": "zlib"}),
                            ("strips-zlib", {"rowsperstrip": 10, "compression": "zlib"})):
        for form, how in (("", {}), ("-big", {"bigtiff": True}), ("-motorola", {"byteorder": ">"})):
            for kind, image, bits in (("grey8", grey, 8), ("grey16", grey16, 16), ("rgb8", colours, 8),
                                      ("rgb16", colours16, 16)):
                name = f"{kind}-{layout}{form}.tif"
                photometric = "rgb" if image.ndim == 3 else "minisblack"
                tifffile.imwrite(path(name), image, photometric=photometric, metadata=None, **options, **how)
                plain = image[..., 1] if image.ndim == 3 else image
                note(name, plain, bits, image.ndim == 3, False)
    for kind, image, bits in (("8", colours, 8), ("16", colours16, 16)):
        for layout, options in (("strips", {"rowsperstrip": 8}), ("tiles", {"tile": (32, 32)}),
                                ("zlib", {"compression": "zlib"})):
            name = f"planar{kind}-{layout}.tif"
            tifffile.imwrite(path(name), np.moveaxis(image, 2, 0), photometric="rgb",
                             planarconfig="separate", metadata=None, **options)
            note(name, image[..., 1], bits, True, False)
    tifffile.imwrite(path("white-is-0.tif"), 255 - grey, photometric="miniswhite", metadata=None)
    note("white-is-0.tif", grey, 8, False, False)
    tifffile.imwrite(path("white-is-0-16.tif"), 65535 - grey16, photometric="miniswhite", metadata=None)
    note("white-is-0-16.tif", grey16, 16, False, False)
    grey12 = blob(75, 103, 4095)
    tifffile.imwrite(path("twelve-in-16.tif"), grey12, photometric="minisblack", metadata=None,
                     extratags=[(281, "H", 1, 4095, True)])
    note("twelve-in-16.tif", grey12, 12, False, False)
    tifffile.imwrite(path("twelve-said-by-ome.tif"), grey12, photometric="minisblack", metadata=None,
                     description='<?xml version="1.0"?><OME xmlns="http://www.openmicroscopy.org/Schemas/OME/'
                     '2016-06"><Image ID="Image:0"><Pixels ID="Pixels:0" SignificantBits="12" '
                     'PhysicalSizeX="0.65" PhysicalSizeY="650" PhysicalSizeYUnit="nm"/></Image></OME>')
    note("twelve-said-by-ome.tif", grey12, 12, False, False)
    # A promise of 12 bits that the pixels break.
    tifffile.imwrite(path("twelve-but-16.tif"), grey16, photometric="minisblack", metadata=None,
                     extratags=[(281, "H", 1, 4095, True)])
    note("twelve-but-16.tif", grey16, 16, False, False)
    write("twelve-packed.tif", tiff12(grey12))
    note("twelve-packed.tif", grey12, 12, False, False)
    # A thumbnail first, marked as one; the picture second.
    with tifffile.TiffWriter(path("thumbnail-first.tif")) as writer:
        writer.write(grey[::4, ::4], photometric="minisblack", subfiletype=1, metadata=None)
        writer.write(grey, photometric="minisblack", metadata=None)
    note("thumbnail-first.tif", grey, 8, False, False)


# --- luminance: the truth from the definition of ITU-R BT.601, rounded ---


def make_luminance():
    colours, colours16 = rgb(), rgb(greatest=65535)
    for name, image, kind in (("luminance8", colours, np.uint8), ("luminance16", colours16, "<u2")):
        tones = np.rint(image @ np.array([0.299, 0.587, 0.114])).astype(kind)
        for ending in (".png", "-planar.tif", ".tif", "-planar-tiles.tif"):
            if ending == ".png":
                write(name + ending, png(image, 8 * image.itemsize, 2))
            elif ending == ".tif":
                tifffile.imwrite(path(name + ending), image, photometric="rgb", metadata=None)
            else:
                how = {"tile": (16, 16)} if "tiles" in ending else {"rowsperstrip": 5}
                tifffile.imwrite(path(name + ending), np.moveaxis(image, 2, 0), photometric="rgb",
                                 planarconfig="separate", metadata=None, **how)
            write(name + ending + ".luminance.raw", tones.tobytes())
            for i, channel in enumerate(("red", "green", "blue")):
                write(f"{name}{ending}.{channel}.raw", image[..., i].astype(kind).tobytes())


# --- tags ---


def exif(orientation=None, original=None, digitized=None, changed=None, offset=None):
    tags = Image.Exif()
    if orientation:
        tags[0x0112] = orientation
    if changed:
        tags[0x0132] = changed
    inner = {}
    if original:
        inner[0x9003] = original
    if digitized:
        inner[0x9004] = digitized
    if offset:
        inner[0x9011] = offset
    if inner:
        tags[0x8769] = inner
    return tags


def make_tags():
    grey = Image.fromarray(blob(20, 30))
    for dpi in (72, 96, 150, 300, 600, 1200, 2540, 5080):
        for ending in ("png", "tif", "jpg", "bmp"):
            grey.save(path(f"dpi{dpi}.{ending}.tag"), {"jpg": "jpeg", "tif": "tiff"}.get(ending, ending),
                      dpi=(dpi, dpi))
    tifffile.imwrite(path("percm.tif.tag"), np.asarray(grey), resolution=((41613, 10), (4158, 1)),
                     resolutionunit="CENTIMETER", metadata=None)
    tifffile.imwrite(path("unitless.tif.tag"), np.asarray(grey), resolution=((41613, 10), (4158, 1)),
                     resolutionunit="NONE", metadata=None)
    tifffile.imwrite(path("one.tif.tag"), np.asarray(grey), resolution=(1, 1), resolutionunit="INCH",
                     metadata=None)
    tones = np.asarray(grey)
    write("unitless.png.tag", png(tones, 8, 0, before=chunk(b"pHYs", struct.pack(">IIB", 3, 2, 0))))
    write("metre.png.tag", png(tones, 8, 0, before=chunk(b"pHYs", struct.pack(">IIB", 416130, 415800, 1))))
    grey.save(path("unitless.jpg.tag"), "jpeg")
    taken = exif(6, original="2026:03:02 09:15:00", changed="2027:01:01 00:00:00", offset="+01:00")
    grey.save(path("exif.jpg.tag"), "jpeg", exif=taken)
    grey.save(path("exif.png.tag"), "png", exif=taken)
    grey.save(path("digitized.jpg.tag"), "jpeg", exif=exif(1, digitized="2026:03:02 09:15:01"))
    grey.save(path("changed.jpg.tag"), "jpeg", exif=exif(1, changed="2026:03:02 09:15:01"))
    grey.save(path("zeros.jpg.tag"), "jpeg", exif=exif(1, original="0000:00:00 00:00:00"))
    # Pillow can put only tags that it has read itself into a TIFF.
    grey.save(path("exif.tif.tag"), "tiff", exif=Image.open(path("exif.jpg.tag")).getexif())
    tifffile.imwrite(path("datetime.tif.tag"), tones, datetime="2025:12:31 23:59:58", metadata=None)


# --- kinds that are not read ---


def make_refused():
    grey, colours = blob(64, 64), rgb(64, 64)
    tifffile.imwrite(path("float.tif.tag"), grey.astype(np.float32), metadata=None)
    tifffile.imwrite(path("signed.tif.tag"), grey.astype(np.int16), metadata=None)
    cmyk = Image.fromarray(colours).convert("CMYK")
    cmyk.save(path("cmyk.jpg.tag"), "jpeg")
    cmyk.save(path("cmyk.tif.tag"), "tiff")
    bmp = bytearray(open(path("grey8.bmp"), "rb").read())
    bmp[30] = 1  # RLE8
    write("run-lengths.bmp.tag", bytes(bmp))
    # 60000 x 60000 in one strip of nothing much.
    entries = [(256, 4, 1, 60000), (257, 4, 1, 60000), (258, 3, 1, 8), (259, 3, 1, 8), (262, 3, 1, 1),
               (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, 60000), (279, 4, 1, 1000)]
    ifd = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", *e) for e in entries)
    write("bomb.tif.tag", b"II*\0" + struct.pack("<I", 1008) + zlib.compress(bytes(10**6))[:1000].ljust(1000)
          + ifd + b"\0\0\0\0")


make_png()
make_jpeg()
make_bmp()
make_tiff()
make_luminance()
make_tags()
make_refused()
with open(path("cases.txt"), "w") as file:
    file.write("\n".join(cases) + "\n")
