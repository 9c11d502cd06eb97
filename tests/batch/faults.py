#!/usr/bin/env python3
"""What can go wrong under a batch, done to the real program on the demo's faces.

usage: faults.py PROGRAM [--bad-drive LIBRARY] [CASE]

Killed in the middle, asked to stop, two runs on one folder, two runs on one store of records, a full disk, a folder
that cannot be made or not be written, a drive that stalls or goes away, clocks that jump, pictures that come while it
watches, one worker against three. Each case must end with the words and the exit status that the
README promises, with whole files only, and with nothing lost that was done.
"""
import contextlib
import json
import os
import pathlib
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time

SOURCE = pathlib.Path(__file__).resolve().parents[2]
SAMPLES = SOURCE / "sample-images"
PATIENCE_S = 90
BAD_DRIVE = ""  # a library that makes reads stall or fail: programs/bad_drive.cpp


def pictures(folder, count):
    """`count` faces of the extrusion; a comment behind a PNG's end would be refused, so each differs in name only."""
    folder.mkdir(parents=True, exist_ok=True)
    faces = sorted(SAMPLES.glob("LV-7504-*.png"))
    for i in range(count):
        shutil.copy(faces[i % len(faces)], folder / f"face-{i:02}.png")


def words(program, folder, out, *more):
    return [program, "batch", str(folder), "--design", str(SAMPLES / "LV-7504.design.json"), "--section", "extrusion",
            "--calibration", str(SOURCE / "calibration" / "demo-bench-5x.calibration.json"), "--out", str(out),
            "--no-pictures", *more]


def run(*call, **how):
    return subprocess.run(call[0] if len(call) == 1 else list(call), capture_output=True, text=True, timeout=PATIENCE_S,
                          check=False, **how)


def ledger_lines(out):
    """Faces that the ledger knows; a line behind another one of the same face only says more of it."""
    path = out / "run.ledger"
    lines = path.read_bytes().split(b"\n")[1:-1] if path.exists() else []
    return len({json.loads(line)["image"] for line in lines})


def wait_for(what, process=None):
    end = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end, "waited in vain"
        assert process is None or process.poll() is None, "ended too early"
        time.sleep(0.02)


def whole(out):
    """Every file in the folder is one that was meant to be there, and reads."""
    for path in out.rglob("*"):
        if path.is_dir():
            continue
        assert path.name in ("run.json", "run.ledger", "run.lock") or path.name.endswith(".result.json"), f"{path} left"
        if path.suffix == ".json":
            json.loads(path.read_text(encoding="utf-8"))


def faces_of(out):
    return {f["image"]: f for f in json.loads((out / "run.json").read_text(encoding="utf-8"))["faces"]}


def case_killed(program, folder):
    pictures(folder / "in", 6)
    call = words(program, folder / "in", folder / "out", "--jobs", "2")
    with subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        wait_for(lambda: ledger_lines(folder / "out") >= 2, process)
        process.send_signal(signal.SIGKILL)
    done = ledger_lines(folder / "out")
    left = list((folder / "out").rglob("*.draft-*"))  # of the faces in hand, at most one a worker
    assert len(left) <= 2, left
    again = run(call)
    whole(folder / "out")
    assert again.returncode == 1, again.stderr
    assert f"{6 - done} anew, {done} as before" in again.stdout, again.stdout
    assert {f["state"] for f in faces_of(folder / "out").values()} == {"measured"}


def case_asked_to_stop(program, folder):
    pictures(folder / "in", 8)
    for how in (signal.SIGINT, signal.SIGTERM):
        out = folder / how.name
        call = words(program, folder / "in", out, "--jobs", "2")
        with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            wait_for(lambda: ledger_lines(out) >= 1, process)
            process.send_signal(how)
            stdout, stderr = process.communicate(timeout=PATIENCE_S)
        whole(out)
        states = [f["state"] for f in faces_of(out).values()]
        done = states.count("measured")
        assert 1 <= done < 8 and states.count("waiting") == 8 - done, (states, stderr)
        assert f"{done} anew, 0 as before; stopped with {8 - done} to do" in stdout, stdout
        assert process.returncode == 3, (process.returncode, stdout, stderr)  # faces that were not measured
        again = run(call)
        assert f"{8 - done} anew, {done} as before" in again.stdout, again.stdout
        whole(out)


def on_bad_drive(name, **how):
    return {**os.environ, "LD_PRELOAD": BAD_DRIVE, "BAD_DRIVE_PATH": name, **{k: str(v) for k, v in how.items()}}


def case_stalled_drive(program, folder):
    if not BAD_DRIVE:
        return print("no --bad-drive: left out")
    pictures(folder / "in", 4)
    stalled = on_bad_drive("face-01.png", BAD_DRIVE_BACK=folder / "back")
    call = words(program, folder / "in", folder / "out", "--jobs", "2")
    # One picture stalls: the others are measured and kept meanwhile. A first Ctrl-C waits for the face in hand, a
    # second one does not.
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=stalled) as process:
        wait_for(lambda: ledger_lines(folder / "out") == 3, process)
        process.send_signal(signal.SIGINT)
        time.sleep(1)
        assert process.poll() is None
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=PATIENCE_S)
    assert process.returncode == -signal.SIGINT, process.returncode
    whole(folder / "out")
    # It stalls again, and comes back: only that face is measured, and the run ends as any other.
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=stalled) as process:
        time.sleep(1)
        assert process.poll() is None
        (folder / "back").touch()
        stdout, stderr = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 1 and "1 anew, 3 as before" in stdout, (process.returncode, stdout, stderr)
    assert {f["state"] for f in faces_of(folder / "out").values()} == {"measured"}
    whole(folder / "out")


def case_drive_that_goes_away(program, folder):
    if not BAD_DRIVE:
        return print("no --bad-drive: left out")
    pictures(folder / "in", 3)
    call = words(program, folder / "in", folder / "out", "--jobs", "1")
    gone = run(call, env=on_bad_drive("face-01.png", BAD_DRIVE_GONE=1))
    assert gone.returncode == 2, (gone.returncode, gone.stderr)
    assert "face-01.png" in gone.stderr and "Input/output error" in gone.stderr, gone.stderr
    faces = faces_of(folder / "out")
    assert faces["face-01.png"]["code"] == "file-unreadable" and faces["face-01.png"]["state"] != "measured", faces
    assert faces["face-00.png"]["state"] == faces["face-02.png"]["state"] == "measured"
    again = run(call)
    assert again.returncode == 1 and "1 anew, 2 as before" in again.stdout, again.stdout + again.stderr


def case_no_rights(program, folder):
    """Folders that may not be read or written, as a user who is not root."""
    pictures(folder / "in", 2)
    (folder / "out").mkdir()
    folder.chmod(0o755)
    (folder / "out").chmod(0o555)
    (folder / "in" / "face-01.png").chmod(0)
    user = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
    try:
        run(program, "--version", **user)
    except PermissionError:
        return print("the program's folder is root's own: left out")
    locked = run(words(program, folder / "in", folder / "out"), **user)
    assert locked.returncode == 2 and "Permission denied" in locked.stderr, (locked.returncode, locked.stderr)
    assert not list((folder / "out").iterdir())
    (folder / "out").chmod(0o777)
    one = run(words(program, folder / "in", folder / "out"), **user)
    faces = faces_of(folder / "out")
    assert one.returncode == 2, one.stderr
    assert faces["face-00.png"]["state"] == "measured" and faces["face-01.png"]["code"] == "file-unreadable", faces
    assert "check the path and the rights" in one.stderr, one.stderr


def case_one_face_without_room(program, folder):
    """measure, not batch: nothing half written stays, and the words say so."""
    pictures(folder / "in", 1)
    call = [program, "measure", str(folder / "in" / "face-00.png"), *words("", "", folder / "out")[3:-1]]

    def little_room():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, 30_000))

    full = run(call, preexec_fn=little_room)
    assert full.returncode == 2 and "nothing was written" in full.stderr, (full.returncode, full.stderr)
    whole(folder / "out")
    assert run(call).returncode in (0, 1)


def case_two_at_once(program, folder):
    pictures(folder / "in", 3)
    call = words(program, folder / "in", folder / "out")
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as first:
        wait_for(lambda: (folder / "out" / "run.ledger").exists(), first)
        second = run(call)
        assert second.returncode == 2, second.stdout
        assert re.fullmatch(r"cutface: .*out: another run is at work in this folder; .*\n", second.stderr), second.stderr
        first.communicate(timeout=PATIENCE_S)
    assert first.returncode == 1
    assert len(faces_of(folder / "out")) == 3
    whole(folder / "out")


def case_two_on_one_store(program, folder):
    (folder / "phrase").write_text("sections are cut square\n")
    store = ["--store", str(folder / "lab")]
    start = run(program, "records", "start", *store, "--by", "E. Method", "--new-passphrase-file", str(folder / "phrase"))
    assert start.returncode == 0, start.stderr
    calls = []
    for name, count in (("a", 4), ("b", 3)):
        pictures(folder / name, count)
        calls.append(words(program, folder / name, folder / f"out-{name}", "--jobs", "1", "--inspector", f"Inspector {name}",
                           "--records", str(folder / "lab"), "--recursive"))
    # The same pictures under two lots: results of their own.
    (folder / "b.csv").write_text("image,plane,lot\n" + "".join(f"face-{i:02}.png,extrusion,L-2\n" for i in range(3)))
    calls[1] += ["--manifest", str(folder / "b.csv")]
    processes = [subprocess.Popen(c, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for c in calls]
    for process in processes:
        _, stderr = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == 1, stderr
    listed = run(program, "records", "list", "--kind", "result", "--json", *store)
    who = [json.loads(line)["who"] for line in listed.stdout.splitlines()]
    assert sorted(who) == ["Inspector a"] * 4 + ["Inspector b"] * 3, who
    verified = run(program, "records", "verify", *store)
    assert verified.returncode == 0 and "sound" in verified.stdout, verified.stdout


def case_clock_jump(program, folder):
    pictures(folder / "in", 3)
    for i, years in enumerate((+20, -40, 0)):  # of the computer that wrote them
        when = time.time() + years * 365.25 * 86400
        os.utime(folder / "in" / f"face-{i:02}.png", (when, when))
    call = words(program, folder / "in", folder / "out", "--jobs", "1")
    assert "3 anew" in run(call).stdout
    before = (folder / "out" / "run.json").read_bytes()
    # Then this computer's clock is set back: everything that the run wrote lies in the future.
    for path in (folder / "out").iterdir():
        os.utime(path, (time.time() + 86400 * 365,) * 2)
    again = run(call)
    assert "0 anew, 3 as before" in again.stdout, again.stdout
    assert (folder / "out" / "run.json").read_bytes() == before
    # Another picture under the same name, with the time of the one before, is seen all the same.
    path = folder / "in" / "face-00.png"
    stat, data = path.stat(), bytearray(path.read_bytes())
    other = (folder / "in" / "face-01.png").read_bytes()
    path.write_bytes(other)
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    third = run(call)
    assert "1 anew, 2 as before" in third.stdout, third.stdout
    assert bytes(data) != other


def case_full_disk(program, folder):
    pictures(folder / "in", 4)
    call = words(program, folder / "in", folder / "out", "--jobs", "1")

    def little_room():
        # As on a full disk, a file beyond this size cannot be finished.
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, 30_000))

    full = run(call, preexec_fn=little_room)
    assert full.returncode == 2, (full.returncode, full.stderr)
    assert "takes no more files; the run ends here" in full.stderr, full.stderr
    whole(folder / "out")
    states = [f["state"] for f in faces_of(folder / "out").values()]
    assert states == ["waiting"] * 4, states
    again = run(call)
    assert again.returncode == 1 and "4 anew" in again.stdout, again.stdout + again.stderr


def case_small_tmpfs(program, folder):
    small = folder / "small"
    small.mkdir()
    mounted = run("mount", "-t", "tmpfs", "-o", "size=700k", "tmpfs", str(small))
    if mounted.returncode != 0:
        print("no right to mount a small file system here: the case of a full disk stands for it")
        return
    try:
        pictures(folder / "in", 6)
        call = words(program, folder / "in", small / "out", "--jobs", "2")
        full = run(call)
        assert full.returncode == 2, (full.returncode, full.stdout, full.stderr)
        assert "No space left on device" in full.stderr, full.stderr
        whole(small / "out")
        done = ledger_lines(small / "out")
        assert 0 < done < 6, done
        assert run("mount", "-o", "remount,size=8m", str(small)).returncode == 0
        again = run(call)
        assert f"{6 - done} anew, {done} as before" in again.stdout, again.stdout + again.stderr
    finally:
        run("umount", str(small))


def case_folder_that_cannot_be_made(program, folder):
    pictures(folder / "in", 1)
    (folder / "file").write_text("mine")
    for out in (folder / "file", folder / "file" / "out"):
        bad = run(words(program, folder / "in", out))
        assert bad.returncode == 2 and bad.stderr.count("\n") == 1, bad.stderr
        assert "cannot be made a folder for results" in bad.stderr, bad.stderr
    assert (folder / "file").read_text() == "mine"


def case_unreadable(program, folder):
    pictures(folder / "in", 2)
    (folder / "in" / "ring.png").symlink_to("ring.png")
    (folder / "in" / "gone.png").symlink_to("nowhere.png")
    (folder / "in" / "empty.png").write_bytes(b"")
    one = run(words(program, folder / "in", folder / "out"))
    assert one.returncode == 2, one.stderr
    faces = faces_of(folder / "out")
    assert {n: f["state"] for n, f in faces.items() if n.startswith("face")} == {"face-00.png": "measured", "face-01.png": "measured"}
    assert faces["empty.png"]["code"] == "image-empty"
    for name in ("ring.png", "gone.png", "empty.png"):
        assert faces[name]["state"] != "measured" and faces[name]["reason"], faces[name]
        assert name in one.stderr


def case_watch(program, folder):
    pictures(folder / "ready", 2)
    (folder / "in").mkdir()
    call = words(program, folder / "in", folder / "out", "--watch")
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        wait_for(lambda: (folder / "out" / "run.json").exists(), process)
        shutil.copy(folder / "ready" / "face-00.png", folder / "in" / "face-00.png")
        data = (folder / "ready" / "face-01.png").read_bytes()
        # As a microscope writes: piece by piece, longer than one look at the folder.
        with open(folder / "in" / "face-01.png", "wb") as file:
            for i in range(8):
                file.write(data[i * len(data) // 8:(i + 1) * len(data) // 8])
                file.flush()
                time.sleep(0.3)
        wait_for(lambda: ledger_lines(folder / "out") >= 2, process)
        time.sleep(0.3)
        process.send_signal(signal.SIGINT)
        stdout, stderr = process.communicate(timeout=PATIENCE_S)
    assert process.returncode in (0, 1), (process.returncode, stderr)
    assert "ends before its pixels" not in stderr, stderr
    assert {f["state"] for f in faces_of(folder / "out").values()} == {"measured"}, stdout
    assert stdout.count("face-00.png, extrusion") == 1, stdout
    whole(folder / "out")


def case_one_worker_or_three(program, folder):
    pictures(folder / "in", 3)
    texts = []
    for jobs in ("1", "3"):
        out = folder / f"out{jobs}"
        assert run(words(program, folder / "in", out, "--jobs", jobs)).returncode == 1
        files = {p.name: re.sub(r'"time": "[^"]*"', "", p.read_text(encoding="utf-8")) for p in sorted(out.glob("*.result.json"))}
        assert len(files) == 3
        texts.append(files)
    assert texts[0] == texts[1]


def main():
    global BAD_DRIVE
    program, chosen = str(pathlib.Path(sys.argv[1]).resolve()), sys.argv[2:]
    if chosen[:1] == ["--bad-drive"]:
        BAD_DRIVE, chosen = str(pathlib.Path(chosen[1]).resolve()), chosen[2:]
    cases = {name[5:]: case for name, case in globals().items() if name.startswith("case_")}
    chosen = chosen or list(cases)
    for name in chosen:
        with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack():
            begun = time.monotonic()
            cases[name](program, pathlib.Path(folder))
            print(f"{name}: as promised ({time.monotonic() - begun:.1f} s)", flush=True)
    return 0


if __name__ == "__main__":
    os.environ["LC_ALL"] = "C"
    sys.exit(main())
