import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
import line_scale  # noqa: E402
line_scale.main(["x.png", "--angle", "3"])
line_scale.main(["y.png", "--angle", "92", "--lines", "25", "--seed", "2"])
