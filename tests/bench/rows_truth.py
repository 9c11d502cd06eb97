"""True values of the two rows of turns in a lengthwise section, from the contours of the truth file.

Pixels. Nothing here comes from the measuring program.
"""

import numpy as np
from shapely.geometry import LineString, Polygon

FACING = 0.5  # cosine: edges of the wall that face a row


def is_lengthwise(truth):
    return any(layer.get("pitch_px", 0) > 0 for layer in truth.get("wire_layers", []))


def _long_edge(contour, outwards):
    """The edges of a closed contour whose outward normals point the same way, as lines."""
    points = np.asarray(contour, float)
    x, y = points[:, 0], points[:, 1]
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        points = points[::-1]
    step = np.roll(points, -1, axis=0) - points
    normal = np.column_stack([step[:, 1], -step[:, 0]])  # outwards where the area is positive
    length = np.hypot(*step.T)
    facing = normal @ outwards > FACING * length
    return [LineString([points[i], points[(i + 1) % len(points)]]) for i in np.flatnonzero(facing)]


def rows_of(truth, layer):
    """Pitch, covers and the rest of one layer; {} when its wires are too few."""
    mine = [w for w in truth["wires"] if w["layer"] == layer["name"]]
    turns = layer["expected"] // 2
    even = [w for w in mine if w["state"] == "wire" and not w["displaced"] and not w["touching"]
            and not w["exposed_to"]]
    row = np.array([(w["no"] - 1) // turns for w in even])
    slot = np.array([(w["no"] - 1) % turns for w in even], float)
    at = np.array([w["centre_px"] for w in even])
    if min(np.sum(row == 0), np.sum(row == 1)) < 3:
        return {}
    design = np.column_stack([row == 0, row == 1, slot])
    (base0, base1, step), *_ = np.linalg.lstsq(design, at, rcond=None)
    pitch = float(np.hypot(*step))
    along = step / pitch
    across = np.array([-along[1], along[0]])
    if (base1 - base0) @ across < 0:
        across = -across
    there = [w for w in mine if w["state"] in ("wire", "extra")]
    covers = {"outer_cover": [], "inner_cover": []}
    width, by_wire = [], {}
    for w in there:
        metal = Polygon(w["contour_px"])
        near = 0 if abs((w["centre_px"] - base0) @ across) < abs((w["centre_px"] - base1) @ across) else 1
        outwards = across if near == 1 else -across
        width.append(np.ptp(np.asarray(w["contour_px"], float) @ along))
        walls = {"outer_cover": _long_edge(truth["outline"]["contour_px"], outwards),
                 "inner_cover": [e for lumen in truth["lumens"].values() if lumen.get("contour_px")
                                 for e in _long_edge(lumen["contour_px"], outwards)]}
        for word, edges in walls.items():
            if edges:
                covers[word].append(min(metal.distance(e) for e in edges))
                by_wire[(word, w["no"])] = covers[word][-1]
    gaps = []
    places = {(w["no"] - 1): w for w in mine if w["state"] == "wire"}
    for no, w in places.items():
        if no + 1 in places and (no + 1) % turns:
            gaps.append(float((np.subtract(places[no + 1]["centre_px"], w["centre_px"])) @ along))
    values = {"pitch": pitch, "pitch_min": min(gaps), "pitch_max": max(gaps),
              "count": float(len(there)), "layer_diameter": float((base1 - base0) @ across),
              "coverage": 100 * float(np.mean(width)) / pitch}
    values.update({word: float(min(c)) for word, c in covers.items() if c})
    values["by_wire"] = by_wire
    return values
