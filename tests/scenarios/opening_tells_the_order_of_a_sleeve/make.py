"""The result of the demo's bond and an invented stiffness curve, for the command opening."""
import json
import pathlib
import subprocess
import sys

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
run = subprocess.run(
    [sys.argv[1], "measure", samples / "built" / "LV-7504-B-bond-distal.png", "--design", samples / "LV-7504.design.json",
     "--section", "bond-distal", "--calibration", samples / "../calibration/demo-bench-5x.calibration.json",
     "--taken", "2026-04-01", "--out", "."], capture_output=True, text=True)
if run.returncode > 1:
    sys.exit(run.stderr)
stretch = [1 + 0.05 * i for i in range(301)]
curve = {"format": "cutface/stiffness", "version": 1, "source": "invented", "stretch": stretch,
         "stress_mpa": [0.3 * (s - s**-3) for s in stretch]}
pathlib.Path("invented.stiffness.json").write_text(json.dumps(curve), encoding="utf-8")
