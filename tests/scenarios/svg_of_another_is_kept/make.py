"""An SVG file of another program where ours would go."""
import pathlib

pathlib.Path("LV-7504-good.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>\n", encoding="utf-8")
