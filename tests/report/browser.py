"""Drives Chromium without a window over its own protocol by a pipe (--remote-debugging-pipe)."""
import base64
import json
import os
import select
import subprocess
import tempfile
import time


class Browser:
    """One page at a time; what the console says and what fails is kept in `complaints`."""

    def __init__(self, width=1300, height=900):
        self.folder = tempfile.TemporaryDirectory()
        read_end, self.to = os.pipe()
        self.back, write_end = os.pipe()
        words = ["/usr/bin/chromium", "--headless=new", "--no-sandbox", "--disable-gpu",
                 "--disable-dev-shm-usage", "--no-first-run", "--disable-background-networking",
                 f"--window-size={width},{height}", f"--user-data-dir={self.folder.name}",
                 "--remote-debugging-pipe", "about:blank"]
        # The protocol reads from descriptor 3 and writes to 4.
        line = f"exec {' '.join(words)} 3<&{read_end} 4>&{write_end} >/dev/null 2>&1"
        self.process = subprocess.Popen(["/bin/bash", "-c", line], pass_fds=(read_end, write_end))
        os.close(read_end)
        os.close(write_end)
        self.number = 0
        self.buffer = b""
        self.complaints = []
        self.requests = []
        targets = self.call("Target.getTargets", session=None)["targetInfos"]
        page = next(t for t in targets if t["type"] == "page")
        self.session = self.call("Target.attachToTarget", session=None,
                                 targetId=page["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(domain + ".enable")

    def receive(self, until):
        while b"\0" not in self.buffer:
            left = until - time.monotonic()
            if left <= 0 or not select.select([self.back], [], [], left)[0]:
                raise TimeoutError("chromium does not answer")
            piece = os.read(self.back, 1 << 20)
            if not piece:
                raise ConnectionError("chromium is gone")
            self.buffer += piece
        line, self.buffer = self.buffer.split(b"\0", 1)
        message = json.loads(line)
        method, data = message.get("method", ""), message.get("params", {})
        if method == "Runtime.exceptionThrown":
            self.complaints.append(data["exceptionDetails"]["text"])
        elif method == "Runtime.consoleAPICalled":
            self.complaints.append(str(data["args"]))
        elif method == "Log.entryAdded":
            self.complaints.append(data["entry"]["text"])
        elif method == "Page.javascriptDialogOpening":
            self.complaints.append("dialog: " + data["message"])
            self.send("Page.handleJavaScriptDialog", {"accept": False}, self.session)
        elif method == "Network.requestWillBeSent":
            self.requests.append(data["request"]["url"].split(",")[0][:80])
        return message

    def send(self, method, params, session):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if session:
            message["sessionId"] = session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        return self.number

    def call(self, method, session="page", **params):
        number = self.send(method, params, self.session if session == "page" else session)
        until = time.monotonic() + 60
        while True:
            message = self.receive(until)
            if message.get("id") == number:
                if "error" in message:
                    raise RuntimeError(f"{method}: {message['error']}")
                return message["result"]

    def open(self, url):
        self.complaints, self.requests = [], []
        self.call("Page.navigate", url=url)
        until = time.monotonic() + 60
        while self.receive(until).get("method") != "Page.loadEventFired":
            pass

    def run(self, script):
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True,
                           awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"]["exception"].get("description"))
        return answer["result"].get("value")

    def key(self, name, code):
        for kind in ("keyDown", "keyUp"):
            extra = {"text": "\r"} if name == "Enter" and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=name, code=name,
                      windowsVirtualKeyCode=code, **extra)

    def shot(self, path):
        data = self.call("Page.captureScreenshot", format="png")["data"]
        with open(path, "wb") as file:
            file.write(base64.b64decode(data))

    def close(self):
        try:
            self.call("Browser.close", session=None)
        except (ConnectionError, TimeoutError, OSError):
            pass
        try:
            self.process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        os.close(self.to)
        os.close(self.back)
        self.folder.cleanup()
