"""The demo's drawing with an invented material, for screening under pressure."""
import json
import pathlib

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
design = json.loads((samples / "LV-7504.design.json").read_text(encoding="utf-8"))
design["materials"] = {"body": {"modulus_mpa": 50, "poisson": 0.48, "strength_mpa": 0.5}}
pathlib.Path("part.design.json").write_text(json.dumps(design), encoding="utf-8")
