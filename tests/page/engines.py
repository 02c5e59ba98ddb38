"""Two more engines, driven by what they speak themselves: no driver is fetched.

Firefox by Marionette, its own remote protocol (a length, a colon, JSON, over TCP); WebKitGTK's
MiniBrowser by W3C WebDriver, which is JSON over HTTP, in a virtual screen.
"""

import json
import os
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

STARTS_SEC = 40
ANSWERS_SEC = 60
FIREFOX = "/usr/bin/firefox-esr"
WEBKIT = "/usr/bin/WebKitWebDriver"
MINI_BROWSERS = "/usr/lib/*/webkit2gtk-4.*/MiniBrowser"
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name under which a driver tells an element (WebDriver, W3C, 11)."""
SOUND_SERVER = (
    "pulseaudio",
    "-n",
    "--daemonize=no",
    "--exit-idle-time=-1",
    "--realtime=no",
    "--use-pid-file=no",
    "--load=module-null-sink",
)
"""A sound card that plays into nothing, for a machine that has none: Firefox waits for one.

Not in real time: a busy machine ends a process that asks for that and is late.
"""
PREFERENCES = {
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.page": 0,
    # Nothing is begun ahead for pages that never come, nor looked for that has no network.
    "app.normandy.enabled": False,
    "browser.aboutwelcome.enabled": False,
    "browser.newtab.preload": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.safebrowsing.phishing.enabled": False,
    "browser.sessionstore.resume_from_crash": False,
    "dom.ipc.processPrelaunch.enabled": False,
    "extensions.systemAddon.update.enabled": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "marionette.port": 0,
    "media.autoplay.default": 0,
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "toolkit.telemetry.server": "",
}


class NoAnswer(Exception):
    """A browser that does not do in time what it was told."""


class Engine(Protocol):
    """A browser with one window."""

    def command(self, name: str, **arguments: Any) -> Any:
        """Do what WebDriver calls by one of four names: open, run, click, enter (a frame)."""


class Marionette:
    """Firefox, spoken to by its own protocol."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=ANSWERS_SEC)
        self.stream = self.socket.makefile("rb")
        self.number = 0
        self._answer()

    def _answer(self) -> Any:
        length = b""
        while not length.endswith(b":"):
            length += self.stream.read(1)
        return json.loads(self.stream.read(int(length[:-1])))

    def say(self, name: str, arguments: dict[str, Any]) -> Any:
        """Return what the browser answers."""
        self.number += 1
        text = json.dumps([0, self.number, name, arguments])
        self.socket.sendall(f"{len(text.encode())}:{text}".encode())
        _, _, error, value = self._answer()
        if error and error["error"] == "script timeout":
            raise NoAnswer(error["message"])
        assert error is None, error
        return value

    def command(self, name: str, **arguments: Any) -> Any:
        """Do one of the four things."""
        if name == "open":
            return self.say("WebDriver:Navigate", arguments)
        if name == "run":
            told = {"script": arguments["script"], "args": []}
            return self.say("WebDriver:ExecuteAsyncScript", told)["value"]
        found = self.say(
            "WebDriver:FindElement", {"using": "css selector", "value": arguments["selector"]}
        )
        element = found["value"][ELEMENT]
        if name == "enter":
            return self.say("WebDriver:SwitchToFrame", {"element": element})
        return self.say("WebDriver:ElementClick", {"id": element})


class WebDriver:
    """A browser behind W3C WebDriver."""

    def __init__(self, port: int, binary: str) -> None:
        self.address = f"http://127.0.0.1:{port}/session"
        options = {"binary": binary, "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        made = self.say("", {"capabilities": wanted})
        self.address += "/" + made["sessionId"]

    def say(self, path: str, arguments: dict[str, Any] | None) -> Any:
        """Return what the driver answers."""
        data = None if arguments is None else json.dumps(arguments).encode()
        request = urllib.request.Request(
            self.address + path, data, {"Content-Type": "application/json"}
        )
        try:
            with urllib.request.urlopen(request, timeout=ANSWERS_SEC) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise AssertionError(error.read().decode()) from error

    def command(self, name: str, **arguments: Any) -> Any:
        """Do one of the four things."""
        if name == "open":
            return self.say("/url", arguments)
        if name == "run":
            return self.say("/execute/async", {"script": arguments["script"], "args": []})
        found = self.say("/element", {"using": "css selector", "value": arguments["selector"]})
        if name == "enter":
            return self.say("/frame", {"id": found})
        return self.say(f"/element/{found[ELEMENT]}/click", {})


def run(engine: Engine, script: str) -> Any:
    """Return what an expression, or the promise that it makes, comes to."""
    call = (
        f"const done = arguments[0]; Promise.resolve({script}).then(done, (e) => done(`${{e}}`));"
    )
    return engine.command("run", script=call)


def wait(engine: Engine, condition: str, *, most_sec: float = 20) -> None:
    """Wait until an expression is true."""
    end = time.monotonic() + most_sec
    while time.monotonic() < end:
        if run(engine, f"!!({condition})"):
            return
        time.sleep(0.1)
    raise NoAnswer(f"never came true: {condition}")


def _home(folder: Path) -> dict[str, str]:
    """Return the surroundings of a browser of our own."""
    own = {"HOME": str(folder), "XDG_RUNTIME_DIR": str(folder), "LIBGL_ALWAYS_SOFTWARE": "1"}
    return {**os.environ, **own, "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1"}


@contextmanager
def _running(command: list[str], surroundings: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """A process and all that it starts, ended with it."""
    process = subprocess.Popen(
        command,
        env=surroundings,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        os.killpg(process.pid, 15)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, 9)
            process.wait()


@contextmanager
def _sound(home: dict[str, str]) -> Iterator[dict[str, str]]:
    """Surroundings with a sound server that answers; the path of a socket has to be short."""
    with tempfile.TemporaryDirectory(prefix="sound-", dir="/tmp") as folder:
        address = f"{folder}/native"
        heard = {**home, "PULSE_SERVER": f"unix:{address}"}
        protocol = f"--load=module-native-protocol-unix auth-anonymous=1 socket={address}"
        with _running([*SOUND_SERVER, protocol], home):
            _wait_for(lambda: _answers(["pactl", "info"], heard))
            yield heard


def _answers(command: list[str], surroundings: dict[str, str]) -> bool:
    """Return whether a command succeeds soon."""
    try:
        told = subprocess.run(command, env=surroundings, capture_output=True, timeout=5)
    except subprocess.TimeoutExpired:
        return False
    return told.returncode == 0


@contextmanager
def firefox(folder: Path) -> Iterator[Engine]:
    """Debian's Firefox, headless, with a profile of its own."""
    profile = folder / "profile"
    profile.mkdir()
    lines = [f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in PREFERENCES.items()]
    (profile / "user.js").write_text("\n".join(lines), encoding="utf-8")
    command = [FIREFOX, "--marionette", "--headless", "--no-remote", "--profile", str(profile)]
    home = _home(folder)
    with _sound(home) as heard, _running(command, heard):
        told = profile / "MarionetteActivePort"
        _wait_for(lambda: told.exists() and told.read_text().strip())
        engine = Marionette(int(told.read_text()))
        with engine.socket, engine.stream:
            engine.say("WebDriver:NewSession", {})
            yield engine


def _free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _wait_for(is_there: Any) -> None:
    """Wait until something is there."""
    end = time.monotonic() + STARTS_SEC
    while not is_there():
        if time.monotonic() >= end:
            raise NoAnswer("the browser does not start")
        time.sleep(0.1)


def _listens(port: int) -> bool:
    """Return whether somebody listens on a port."""
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def webkit(folder: Path) -> Iterator[Engine]:
    """WebKitGTK's MiniBrowser, in a virtual screen."""
    port = _free_port()
    binary = str(next(Path("/").glob(MINI_BROWSERS.lstrip("/"))))
    screen = ["xvfb-run", "-a", "-s", "-screen 0 1400x1300x24"]
    with _running([*screen, WEBKIT, f"--port={port}"], _home(folder)):
        _wait_for(lambda: _listens(port))
        yield WebDriver(port, binary)
