"""A bench that was checked an hour before the picture: the record and the log's one line."""
import hashlib
import json
import pathlib
import shutil

ROOT = pathlib.Path(__file__).resolve().parents[3]
shutil.copy(ROOT / "calibration" / "demo-bench-5x.calibration.json", ".")
record = pathlib.Path("demo-bench-5x.calibration.json").read_bytes()
line = json.dumps({
    "format": "cutface/check", "version": 1, "time": "2026-04-01T07:05:00Z", "taken": "2026-04-01T07:00:00",
    "by": "desk", "calibration": json.loads(record)["id"],
    "calibration_sha256": hashlib.sha256(record).hexdigest(), "standard": "line scale", "serial": "",
    "certificate": "C-2", "certified_um": 1000.0, "certified_u_um": 0.1, "measured_um": 1000.1,
    "measured_u_um": 0.2, "limit_um": None, "error_um": 0.1, "en": 0.2236, "image": "x.png", "image_sha256": "",
    "verdict": "holds", "reason": "", "previous_sha256": ""})
pathlib.Path("checks.jsonl").write_text(line + "\n", encoding="utf-8")
