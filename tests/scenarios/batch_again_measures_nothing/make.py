"""A run that was made before."""
import pathlib
import shutil
import subprocess
import sys

samples = pathlib.Path(__file__).resolve().parents[3] / "sample-images"
pathlib.Path("faces").mkdir()
shutil.copy(samples / "LV-7504-good.png", "faces/LV-3_extrusion.png")
subprocess.run([sys.argv[1], "batch", "faces", "--design", samples / "LV-7504.design.json", "--pattern", "{any}-{serial}_{plane}.png",
                "--calibration", samples / "../calibration/demo-bench-5x.calibration.json", "--out", "results"],
               check=True, capture_output=True)
