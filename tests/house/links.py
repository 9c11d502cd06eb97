#!/usr/bin/env python3
"""Looks at what programs load and rejects a GPL library or one whose licence nobody has looked up.

usage: links.py PROGRAM...  one line per offence on standard output; exit status 1 when there is one
                            with --list: every library with its licence
"""
import re
import subprocess
import sys

# Library name without version -> licence, read in Debian's /usr/share/doc/<package>/copyright.
# Where a package offers a choice, the licence that we use.
LICENCES = {
    # the compiler's and the system's own
    "linux-vdso": "kernel", "ld-linux-x86-64": "LGPL-2.1", "libc": "LGPL-2.1", "libm": "LGPL-2.1",
    "libdl": "LGPL-2.1", "libpthread": "LGPL-2.1", "librt": "LGPL-2.1", "libresolv": "LGPL-2.1",
    "libstdc++": "GPL-3 with runtime exception", "libgcc_s": "GPL-3 with runtime exception",
    "libgfortran": "GPL-3 with runtime exception", "libgomp": "GPL-3 with runtime exception",
    "libquadmath": "LGPL-2", "libatomic": "GPL-3 with runtime exception",
    # numbers and pictures
    "libopencv_core": "Apache-2.0", "libopencv_imgproc": "Apache-2.0", "libtbb": "Apache-2.0",
    "liblapack": "BSD-3-Clause", "libblas": "BSD-3-Clause", "libpolyclipping": "BSL-1.0",
    "libtiff": "libtiff (MIT-like)", "libjpeg": "BSD-3-Clause", "libspng": "BSD-2-Clause",
    "libexif": "LGPL-2.1", "libwebp": "BSD-3-Clause", "libsharpyuv": "BSD-3-Clause",
    "libLerc": "Apache-2.0", "libdeflate": "MIT", "libzstd": "BSD-3-Clause", "libz": "Zlib",
    "liblzma": "public domain",
    # text and hashes
    "libcrypto": "Apache-2.0", "libssl": "Apache-2.0", "libfmt": "MIT", "libpugixml": "MIT",
    "libxlsxwriter": "BSD-2-Clause, parts MPL-2.0", "libminizip": "Zlib",
    # records
    "libsoci_core": "BSL-1.0", "libsoci_sqlite3": "BSL-1.0", "libsqlite3": "public domain",
    "libsodium": "ISC", "libzip": "BSD-3-Clause", "libbz2": "bzip2 (BSD-like)",
    # drawing
    "libcairo": "LGPL-2.1 or MPL-1.1", "libpixman-1": "MIT", "libpng16": "libpng",
    "libpango-1.0": "LGPL-2", "libpangocairo-1.0": "LGPL-2", "libpangoft2-1.0": "LGPL-2",
    "libfontconfig": "MIT", "libfreetype": "FTL", "libharfbuzz": "MIT", "libfribidi": "LGPL-2.1",
    "libthai": "LGPL-2.1", "libdatrie": "LGPL-2.1", "libgraphite2": "LGPL-2.1 or MPL-2.0",
    "libexpat": "MIT", "libbrotlidec": "MIT", "libbrotlicommon": "MIT",
    "libglib-2.0": "LGPL-2.1", "libgobject-2.0": "LGPL-2.1", "libgio-2.0": "LGPL-2.1",
    "libgmodule-2.0": "LGPL-2.1", "libpcre2-8": "BSD-3-Clause", "libffi": "MIT",
    "libmount": "LGPL-2.1", "libblkid": "LGPL-2.1", "libselinux": "public domain",
    # the window system, loaded by cairo and OpenCV
    "libX11": "MIT", "libXext": "MIT", "libXrender": "MIT", "libXau": "MIT", "libXdmcp": "MIT",
    "libxcb": "MIT", "libxcb-shm": "MIT", "libxcb-render": "MIT", "libGLX": "MIT",
    "libGLdispatch": "MIT", "libglfw": "Zlib", "libstb": "public domain or MIT", "libbsd": "BSD-3-Clause", "libmd": "BSD-3-Clause",
}
# Loaded by `cutface records` when a PostgreSQL connection string asks for it, and what comes along then. The
# program itself must not load these.
ON_DEMAND = ["libsoci_postgresql.so.4.0"]
LICENCES_ON_DEMAND = {
    "libpq": "PostgreSQL", "libldap-2.5": "OpenLDAP-2.8", "liblber-2.5": "OpenLDAP-2.8",
    "libsasl2": "BSD-4-Clause", "libgssapi_krb5": "MIT", "libkrb5": "MIT", "libk5crypto": "MIT",
    "libkrb5support": "MIT", "libcom_err": "MIT", "libkeyutils": "LGPL-2", "libgnutls": "LGPL-2.1",
    "libp11-kit": "BSD-3-Clause", "libtasn1": "LGPL-2.1", "libidn2": "LGPL-3", "libunistring": "LGPL-3",
    "libnettle": "LGPL-3", "libhogweed": "LGPL-3", "libgmp": "LGPL-3",
}
# Known and refused; the message can then say more than "unknown".
REFUSED = {"libjbig": "GPL-2", "libgsl": "GPL-3", "libfftw3": "GPL-2", "libexiv2": "GPL-2",
           "libreadline": "GPL-3", "libgmp": "LGPL-3 or GPL-2", "libCGAL": "GPL-3", "libgmsh": "GPL-2"}


def plain_name(library):
    """libz.so.1 -> libz."""
    return re.sub(r"\.so(\.[0-9.]+)?$", "", library.rsplit("/", 1)[-1])


def loaded(program):
    run = subprocess.run(["ldd", program], capture_output=True, text=True, check=False)
    if run.returncode != 0:
        raise SystemExit(f"links: {program}: {run.stderr.strip() or run.stdout.strip()}")
    for line in run.stdout.splitlines():
        words = line.split()
        if words and "statically" not in words:
            yield words[0], "not found" in line


def on_demand():
    """Paths of the libraries that are loaded on demand, as the system finds them."""
    known = subprocess.run(["/sbin/ldconfig", "-p"], capture_output=True, text=True, check=True).stdout
    for library in ON_DEMAND:
        found = re.search(rf"^\s*{re.escape(library)} .*=> (\S+)$", known, re.M)
        yield found.group(1) if found else library


def offences(program, more=()):
    for library, lost in loaded(program):
        name = plain_name(library)
        if lost:
            yield f"{program}: {library} is not installed"
        elif name in more:
            continue
        elif name in REFUSED:
            yield f"{program}: loads {library}, licence {REFUSED[name]}"
        elif name not in LICENCES:
            yield f"{program}: loads {library}, licence not in tests/house/links.py; look it up"


def main():
    programs = [word for word in sys.argv[1:] if word != "--list"]
    if not programs:
        raise SystemExit("links: name the programs to look at")
    if "--list" in sys.argv:
        for name in sorted({plain_name(lib) for program in programs for lib, _ in loaded(program)}):
            print(f"{name:24} {LICENCES.get(name) or REFUSED.get(name, 'unknown')}")
    found = [line for program in programs for line in offences(program)]
    found += [line for path in on_demand() for line in offences(path, LICENCES_ON_DEMAND)]
    for line in found:
        print(line)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
