#!/usr/bin/env python3
"""The house's guards reject what they are there to reject: a bad sample each."""
import glob
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import floors  # noqa: E402
import links  # noqa: E402
import names  # noqa: E402
import sizes  # noqa: E402


def offences_in(files, check):
    """What `check` says of a small source tree in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder)
        for name, text in files.items():
            path = root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return list(check(root))


def floor_offences(files):
    return offences_in(files, floors.offences)


class Names(unittest.TestCase):
    def test_two_types_of_one_name_are_rejected(self):
        space = "namespace cutface {\n%s\n}  // namespace cutface\n"
        found = offences_in({"src/batch/table.h": space % "struct Row {",
                             "src/report/pages.h": space % "struct Row final : Base {"}, names.offences)
        self.assertEqual(1, len(found))
        self.assertIn("cutface::Row", found[0])

    def test_what_cannot_meet_is_allowed(self):
        own = "namespace cutface {\nnamespace %s {\nstruct Row {\n}  // namespace\n}  // namespace cutface\n"
        nested = "namespace cutface {\nstruct Row::Impl {\n}  // namespace cutface\n"
        self.assertEqual([], offences_in({"src/batch/a.cpp": own % "", "src/report/a.cpp": own % "",
                                          "src/judge/a.h": own % "judge", "src/edge/a.h": nested,
                                          "src/scale/a.h": nested}, names.offences))


class Floors(unittest.TestCase):
    def test_looking_down_is_allowed(self):
        self.assertEqual([], floor_offences({
            "src/measure/a.cpp": '#include "cutface/section.h"\n#include "measure/a.h"\n#include <vector>\n',
            "src/measure/CMakeLists.txt": "cutface_room(measure NEEDS section base LIBS Eigen3::Eigen)\n",
            "include/cutface/judge.h": '#include "cutface/design.h"\n'}))

    def test_looking_up_is_rejected(self):
        found = floor_offences({"src/geometry/a.cpp": '\n#include "cutface/measure.h"\n'})
        self.assertEqual(1, len(found))
        self.assertIn("src/geometry/a.cpp:2", found[0])

    def test_a_public_header_that_looks_up_is_rejected(self):
        self.assertEqual(1, len(floor_offences(
            {"include/cutface/section.h": '#  include <cutface/judge.h>\n'})))

    def test_neighbours_do_not_know_each_other(self):
        self.assertEqual(1, len(floor_offences({"src/phantom/a.cpp": '#include "cutface/edge.h"\n'})))
        self.assertEqual(1, len(floor_offences({"src/cli/a.cpp": '#include "cutface/gui.h"\n'})))

    def test_a_private_header_of_another_room_is_rejected(self):
        self.assertEqual(1, len(floor_offences({"src/inspect/a.cpp": '#include "measure/septum.h"\n'})))

    def test_climbing_out_of_the_folder_is_rejected(self):
        self.assertEqual(1, len(floor_offences({"src/inspect/a.cpp": '#include "../measure/septum.h"\n'})))

    def test_needing_a_higher_room_in_cmake_is_rejected(self):
        self.assertEqual(1, len(floor_offences(
            {"src/edge/CMakeLists.txt": "cutface_room(edge NEEDS base\n  segment)\n"})))
        self.assertEqual(1, len(floor_offences(
            {"src/edge/CMakeLists.txt": "cutface_room(edge NEEDS base LIBS cutface_inspect)\n"})))

    def test_a_room_without_a_floor_is_rejected(self):
        self.assertEqual(1, len(floor_offences({"src/cellar/a.cpp": "\n"})))

    def test_imgui_stays_in_the_windows_views(self):
        self.assertEqual(1, len(floor_offences({"src/picture/a.cpp": "#include <imgui.h>\n"})))
        self.assertEqual(1, len(floor_offences({"gui/state/a.cpp": "#include <imgui.h>\n"})))
        self.assertEqual(0, len(floor_offences({"gui/views/a.cpp": "#include <imgui.h>\n"})))


def size_offences(files, exceptions=None):
    return offences_in(files, lambda root: sizes.offences(root, exceptions or {}))


def function_of(lines, head="int F() {"):
    return head + "\n" + "  ;\n" * (lines - 2) + "}\n"


class Sizes(unittest.TestCase):
    def test_limits_are_inclusive(self):
        self.assertEqual([], size_offences({"src/a/a.cpp": function_of(80) + "\n" * 520}))

    def test_a_long_file_is_rejected(self):
        self.assertEqual(1, len(size_offences({"src/a/a.cpp": "\n" * 601})))

    def test_a_long_function_is_rejected_wherever_it_stands(self):
        for head in ("int F() {", "Result<T> A::B(const X& x = {}) const {", "TEST(A, Sentence) {",
                     "template <class F>\nstruct Point Make(int n) {", "auto f = [](int i) {"):
            found = size_offences({"src/a/a.cpp": "namespace n {\n" + function_of(90, head) + "}\n"})
            self.assertEqual(1, len(found), head)
        inside = "class A final : public B {\n public:\n" + function_of(81) + "};\n"
        self.assertEqual(1, len(size_offences({"src/a/a.cpp": inside})))

    def test_braces_in_text_and_comments_do_not_count(self):
        text = 'int F() {\n  char c = \'{\'; // {\n  /* { */ s = "{"; r = R"x({ "\n)x"; n = 1\'000;\n}\n'
        self.assertEqual([], size_offences({"src/a/a.cpp": text + "int G() {\n}\n" * 60}))

    def test_a_long_class_of_short_functions_is_fine(self):
        text = "struct A {\n" + "int f() { return 1; }\n" * 100 + "};\nnamespace {\n" + ";\n" * 100 + "}\n"
        self.assertEqual([], size_offences({"src/a/a.h": text}))

    def test_a_long_python_function_is_rejected(self):
        self.assertEqual(1, len(size_offences({"tests/a.py": "def f():\n" + "  x = 1\n" * 81})))

    def test_an_exception_with_a_reason_is_honoured_and_a_stale_one_is_not(self):
        long_one = {"src/a/a.cpp": function_of(90)}
        self.assertEqual([], size_offences(long_one, {"src/a/a.cpp:F": "reason"}))
        self.assertEqual(1, len(size_offences({"src/a/a.cpp": ""}, {"src/a/a.cpp:F": "reason"})))


class Links(unittest.TestCase):
    def test_what_is_loaded_on_demand_is_looked_at_and_stays_out_of_the_program(self):
        for path in links.on_demand():
            self.assertTrue(any("libgmp" in line for line in links.offences(path)))
            self.assertEqual([], list(links.offences(path, links.LICENCES_ON_DEMAND)))

    def test_a_gpl_library_is_rejected(self):
        # Debian's shared libtiff loads libjbig, which is GPL-2.
        tiff = glob.glob("/usr/lib/*/libtiff.so.6")
        self.assertTrue(tiff, "libtiff is missing")
        found = list(links.offences(tiff[0]))
        self.assertTrue(any("libjbig" in line and "GPL" in line for line in found), found)

    def test_an_unknown_library_is_rejected(self):
        with tempfile.TemporaryDirectory() as folder:
            library = os.path.join(folder, "libodd.so.1")
            program = os.path.join(folder, "program")
            build = ["g++", "-x", "c++", "-", "-o"]
            subprocess.run(build + [library, "-shared", "-fPIC", "-Wl,-soname,libodd.so.1"],
                           input="int Odd() { return 0; }", text=True, check=True)
            subprocess.run(build + [program, "-x", "none", library, "-Wl,-rpath," + folder],
                           input="int Odd(); int main() { return Odd(); }", text=True, check=True)
            found = list(links.offences(program))
        self.assertEqual(1, len(found), found)
        self.assertIn("libodd.so.1", found[0])

    def test_a_plain_program_passes(self):
        self.assertEqual([], list(links.offences("/usr/bin/ninja")))


if __name__ == "__main__":
    unittest.main()
