"""The demo's drawing with an invented material and a second plane that has no lumen of that name."""
import json
import pathlib
import shutil

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
design = json.loads((samples / "LV-7504.design.json").read_text(encoding="utf-8"))
design["materials"] = {"body": {"modulus_mpa": 50, "poisson": 0.48}}
design["sections"]["tip"] = {"kind": "shaft", "outline": {"circle": {"diameter": 2.0}}}
pathlib.Path("part.design.json").write_text(json.dumps(design), encoding="utf-8")
pathlib.Path("faces").mkdir()
shutil.copy(samples / "LV-7504-good.png", "faces/1.png")
