"""A kept result that, it says, another version measured: one value, one row and one finding were told otherwise then."""
import json
import pathlib
import subprocess
import sys

program = sys.argv[1]
pathlib.Path("phrase").write_text("sections are cut square\n", encoding="utf-8")


def records(*words):
    subprocess.run([program, "records", *words, "--store", "lab"], check=True, capture_output=True)


records("start", "--by", "E. Method", "--new-passphrase-file", "phrase")
root = pathlib.Path(__file__).resolve().parents[3]
design, bench = root / "sample-images/LV-7504.design.json", root / "calibration/demo-bench-5x.calibration.json"
subprocess.run([program, "measure", root / "sample-images/LV-7504-good.png", "--design", design, "--calibration", bench,
                "--section", "extrusion", "--lot", "L-1", "--serial", "B-07", "--taken", "2026-04-01", "--out", "out"],
               check=True, capture_output=True)
path = pathlib.Path("out/LV-7504-good.result.json")
result = json.loads(path.read_text(encoding="utf-8"))
result["software"] = "0.0.9"
for m in result["measurements"]:
    if m["of"] == ["scope", "wash"] and m["quantity"] == "septum":
        for key in ("value", "lo", "hi"):
            m[key] += 10 * m["u"]
result["characteristics"][0]["verdict"] = result["verdict"] = "not proven"
path.write_text(json.dumps(result), encoding="utf-8")
records("add", path, design, bench, "--images", root / "sample-images", "--by", "E. Method", "--passphrase-file", "phrase")
