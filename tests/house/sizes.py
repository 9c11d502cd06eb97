#!/usr/bin/env python3
"""Rejects files over 600 lines and functions over 80.

usage: sizes.py [ROOT]      one line per offence on standard output; exit status 1 when there is one
"""
import ast
import pathlib
import re
import sys

FILE_LIMIT = 600
FUNCTION_LIMIT = 80
FOLDERS = ["include", "src", "calibration", "gui", "tests"]
CPP = {".h", ".cpp"}

# "path" or "path:function" -> why it may be longer. An entry that is not needed is an offence too.
EXCEPTIONS = {}

BLANKED = re.compile(
    r'R"(?P<tag>[^()\s\\]{0,16})\((?:.|\n)*?\)(?P=tag)"'  # raw string
    r"|//[^\n]*|/\*(?:.|\n)*?\*/"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|(?<![0-9a-fA-F])'(?:\\.|[^'\\\n])+'"  # not the ' of 1'000
    r"|^[ \t]*#(?:\\\n|[^\n])*",
    re.M,
)
# What opens a scope that is no function: "struct Name final : Base {" but not "struct Name Make() {".
CONTAINER = re.compile(r"(template\s*<[^{;]*>\s*)?(inline\s+|typedef\s+)*"
                       r"(namespace|class|struct|union|enum|extern)\b(?![^{]*\)\s*(const|noexcept)?\s*$)")
NAME = re.compile(r"([~\w:]+|operator[^(]*|\])\s*\(")  # "]": a lambda


def blank(match):
    """Blanks with the same number of lines, so that line numbers stay right."""
    return "\n" * match.group(0).count("\n")


def cpp_functions(text):
    """(name, first line, last line) of every function body; lambdas count to the function around."""
    line = 1
    head, head_line = [], 0  # the text since the last ; { or } and the line where it begins
    name, depth = "", 0      # of the function being read; depth 0: none
    for char in BLANKED.sub(blank, text):
        line += char == "\n"
        if depth > 0:
            depth += {"{": 1, "}": -1}.get(char, 0)
            if depth == 0:
                yield name, head_line, line
                head = []
        elif char in "{;}" and head.count("(") > head.count(")"):
            head.append(char)  # a default argument "= {}"
        elif char == "{":
            words = "".join(head)
            call = NAME.search(words)
            if call and not CONTAINER.match(words):
                name, depth = call.group(1).strip(), 1
            else:
                head = []
        elif char in ";}":
            head = []
        elif head or not char.isspace():
            head_line = head_line if head else line
            head.append(char)


def python_functions(text):
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield node.name, node.lineno, node.end_lineno


def too_long(root):
    """(key, message) of everything over a limit."""
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*")):
            if path.suffix not in CPP and path.suffix != ".py":
                continue
            name = path.relative_to(root).as_posix()
            text = path.read_text(encoding="utf-8")
            lines = text.count("\n")
            if lines > FILE_LIMIT:
                yield name, f"{name}: {lines} lines, more than {FILE_LIMIT}"
            functions = python_functions(text) if path.suffix == ".py" else cpp_functions(text)
            for function, first, last in functions:
                if last - first + 1 > FUNCTION_LIMIT:
                    yield (f"{name}:{function}", f"{name}:{first}: {function} has {last - first + 1} "
                           f"lines, more than {FUNCTION_LIMIT}")


def offences(root, exceptions=None):
    exceptions = EXCEPTIONS if exceptions is None else exceptions
    needed = set()
    for key, message in too_long(pathlib.Path(root)):
        needed.add(key)
        if key not in exceptions:
            yield message
    for key in exceptions:
        if key not in needed:
            yield f"tests/house/sizes.py: the exception {key} is not needed any more"


def main():
    root = sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parents[2]
    found = list(offences(root))
    for line in found:
        print(line)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
