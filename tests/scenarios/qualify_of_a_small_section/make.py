"""A small drawing and record, so that four phantoms take a second."""
import json
import pathlib

design = {"format": "cutface/design", "version": 1, "units": "mm", "part": {"number": "T-1"}, "sections": {"face": {
    "kind": "shaft", "outline": {"circle": {"diameter": 0.70}}, "lumens": {
        "a": {"circle": {"center": [0.0, 0.14], "diameter": 0.26}}, "b": {"circle": {"center": [0.12, -0.15], "diameter": 0.12}}}}}}
record = {"format": "cutface/calibration", "version": 1, "id": "bench", "image_size_px": [480, 400],
          "pixel_pitch_um": [2.0, 2.0], "pitch_u_um": [0.002, 0.002], "gamma": 1.0}
pathlib.Path("site.design.json").write_text(json.dumps(design))
pathlib.Path("site.calibration.json").write_text(json.dumps(record))
