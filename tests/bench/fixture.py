"""Faces of circles with hand-made truth, for the scripts' own tests. Areas and distances are shapely's."""

import math

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

TRUE_PITCH, RECORD_PITCH = 2.5, 2.502
CENTRE = np.array([600.0, 450.0])
RADIUS = 400.0


def circle(x, y, r, count=360):
    angles = np.arange(count) * 2 * math.pi / count
    return np.stack([x + r * np.cos(angles), y + r * np.sin(angles)], 1)


def quantity(of, word, value, **more):
    return {"of": of, "quantity": word, "value_px": value, **more}


def make_truth(lumens, voids=(), merged=(), missing=(), limits_broken=()):
    """Truth of a round face: lumens {name: (x, y, r)} about the centre, in pixels."""
    truth = {"format": "cutface/truth", "version": 1, "set": "plain", "family": "rounds",
             "light": "reflected", "section": "face", "pitch_um": TRUE_PITCH,
             "record_pitch_um": RECORD_PITCH, "limits_broken": list(limits_broken),
             "outline": {"contour_px": circle(*CENTRE, RADIUS).tolist(), "whole": True},
             "lumens": {}, "voids": [], "quantities": []}
    bores = {}
    joined = unary_union([Polygon(circle(*(CENTRE + lumens[n][:2]), lumens[n][2])) for n in merged])
    for name, (x, y, r) in lumens.items():
        contour = circle(CENTRE[0] + x, CENTRE[1] + y, r)
        if name in merged:
            contour = np.asarray(joined.exterior.coords[:-1])
        state = "not found" if name in missing else "merged" if name in merged else "open"
        truth["lumens"][name] = {"contour_px": contour.tolist(), "state": state,
                                 "merged_with": [m for m in merged if m != name]
                                 if name in merged else []}
        if name not in missing:
            bores["+".join(merged) if name in merged else name] = Polygon(contour)
    outline = Polygon(truth["outline"]["contour_px"])
    add = truth["quantities"].append
    add(quantity(["outline"], "equivalent_diameter", 2 * math.sqrt(outline.area / math.pi)))
    keys = list(bores)
    for i, a in enumerate(keys):
        of = a.split("+")
        add(quantity(of, "equivalent_diameter", 2 * math.sqrt(bores[a].area / math.pi)))
        add(quantity(of, "area", bores[a].area))
        add(quantity(of, "wall", outline.exterior.distance(bores[a].exterior)))
        for b in keys[i + 1 :]:
            add(quantity([a, b], "septum", bores[a].distance(bores[b]), breach=False))
    if merged:
        add(quantity(list(merged), "septum", 0.0, breach=True))
    for x, y, d in voids:
        contour = circle(CENTRE[0] + x, CENTRE[1] + y, d / 2, 60)
        truth["voids"].append({"contour_px": contour.tolist(), "diameter_px": d})
    return truth


def make_design(lumens, rows=()):
    um = RECORD_PITCH / 1000.0
    return {"format": "cutface/design", "version": 1, "units": "mm", "sections": {"face": {
        "kind": "shaft", "outline": {"circle": {"diameter": 2 * RADIUS * um}},
        "lumens": {n: {"circle": {"center": [x * um, y * um], "diameter": 2 * r * um}}
                   for n, (x, y, r) in lumens.items()},
        "characteristics": list(rows)}}}


def to_um(contour):
    return (np.asarray(contour) * RECORD_PITCH).tolist()


def perfect_result(truth, verdict="not judged"):
    """What a faultless program would write, with intervals that hold the pitch's error."""
    lumens, done = {}, set()
    for name, lumen in truth["lumens"].items():
        if name in done:
            continue
        names = [name, *lumen["merged_with"]]
        done.update(names)
        found = lumen["state"] != "not found"
        lumens["+".join(names)] = {
            "of": names, "state": lumen["state"],
            "contour_um": to_um(lumen["contour_px"]) if found else []}
    measurements = []
    for q in truth["quantities"]:
        if q.get("breach"):
            continue
        power = 2 if q["quantity"] == "area" else 1
        value = q["value_px"] * RECORD_PITCH**power
        half = 0.002 * value + 0.1
        measurements.append({"of": q["of"], "quantity": q["quantity"], "value": value,
                             "u": half / 2, "lo": value - half, "hi": value + half,
                             "unit": "um2" if power == 2 else "um"})
    return {"format": "cutface/result", "version": 1, "verdict": verdict,
            "placement": {"interchangeable": [], "names": "proven"},
            "features": {"outline": {"contour_um": to_um(truth["outline"]["contour_px"])},
                         "lumens": lumens,
                         "voids": [{"no": i, "class": "void", "contour_um": to_um(v["contour_px"])}
                                   for i, v in enumerate(truth["voids"], 1)]},
            "measurements": measurements, "characteristics": [], "findings": []}


UNLIKE = {"scope": (0, -190, 130), "wash": (-190, 130, 90), "return": (180, 140, 100),
          "cuff": (230, -120, 40)}
VOIDS = [(0, 20, 20.0), (60, 60, 8.0), (-30, -30, 30.0)]
EQUAL = {"n": (0, -200, 90), "e": (200, 0, 90), "s": (0, 200, 90), "w": (-200, 0, 90)}
BROKEN = {"a": (-100, 0, 110), "b": (100, 0, 110), "c": (0, 250, 60), "d": (0, -250, 60)}
