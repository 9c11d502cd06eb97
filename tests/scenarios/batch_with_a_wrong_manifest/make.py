"""A manifest with a mistyped column."""
import pathlib

pathlib.Path("faces").mkdir()
pathlib.Path("faces.csv").write_text("image,sreial\na.png,1\n", encoding="utf-8")
