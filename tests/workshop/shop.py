"""A workshop in a process of its own, and a browser that stands before it."""

from __future__ import annotations

import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from browser import programs

ROOT = Path(__file__).parents[2]
#: How long a state may take to come about on a machine that is busy otherwise.
PATIENCE_S = float(os.environ.get("MOTIF_PATIENCE", "180"))


class Shop:
    """``motifsearch workshop FOLDER`` as a maker starts it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "motifsearch", "workshop", str(folder), "--no-browser"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": path},
        )
        assert self.process.stdout is not None
        self.line = self.process.stdout.readline()
        assert self.line.startswith("Workshop: http://127.0.0.1:"), self.line
        self.address = self.line.removeprefix("Workshop: ").strip()
        self.at = self.address.partition("/?")[0]

    def kill(self) -> None:
        self.process.kill()
        self.process.communicate()

    def end(self) -> int:
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.communicate(timeout=60)
        except subprocess.TimeoutExpired:
            self.kill()
        return self.process.returncode


class Tab:
    """A browser with one window or several."""

    def __init__(self, profile: Path, wide: int = 1280, tall: int = 900) -> None:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service

        browser, driver = programs()
        options = webdriver.ChromeOptions()
        options.binary_location = browser
        for flag in ("headless=new", "no-sandbox", "disable-gpu", "disable-dev-shm-usage",
                     "no-first-run", "disable-background-networking", "disable-component-update",
                     "disable-sync", f"window-size={wide},{tall}",
                     f"user-data-dir={profile}"):  # fmt: skip
            options.add_argument(f"--{flag}")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(executable_path=driver))
        self.driver.set_script_timeout(60)
        if wide < 500:
            metrics = {"width": wide, "height": tall, "deviceScaleFactor": 2, "mobile": True}
            self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)

    def js(self, code: str, *values: Any) -> Any:
        return self.driver.execute_script(code, *values)

    def wait(self, code: str, *values: Any) -> Any:
        """Wait until a condition holds in the page; return its value."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            found = self.js(f"return {code}", *values)
            if found:
                return found
            time.sleep(0.05)
        text = self.js("return document.body.innerText.slice(0, 1500)")
        raise AssertionError(
            f"never came: {code} {values}\n{self.js('return location.href')}\n{text}"
        )

    def open(self, address: str) -> None:
        self.driver.get(address)
        self.wait("location.pathname !== '/' && document.documentElement.dataset.ready")

    def there(self, selector: str) -> Any:
        self.wait("document.querySelector(arguments[0])", selector)
        return self.driver.find_element("css selector", selector)

    def click(self, selector: str) -> None:
        from selenium.common.exceptions import WebDriverException

        end = time.monotonic() + PATIENCE_S
        while True:
            one = self.there(selector)
            try:
                self.js(
                    "arguments[0].scrollIntoView({block: 'center'}); window.touched = false;"
                    "arguments[0].addEventListener('click', () => { window.touched = true; },"
                    " { capture: true, once: true })", one
                )  # fmt: skip
                one.click()
                # False: it was drawn anew, or moved, under the finger. None: this is another page.
                if self.js("return window.touched") is not False:
                    return
                if time.monotonic() > end:
                    raise AssertionError(f"a click never comes to {selector}")
            except WebDriverException:
                # It was drawn anew between the look and the touch.
                if time.monotonic() > end:
                    raise
            time.sleep(0.1)

    def keys(self, *keys: str) -> None:
        from selenium.webdriver import ActionChains

        ActionChains(self.driver).send_keys(*keys).perform()

    def back(self) -> None:
        """Press Shift and Tab."""
        from selenium.webdriver import ActionChains

        chain = ActionChains(self.driver).key_down("\ue008").send_keys("\ue004")
        chain.key_up("\ue008").perform()

    def tab_to(self, selector: str) -> None:
        """Press Tab until something has the focus, as one does who has no mouse."""
        self.there(selector)
        for _ in range(150):
            if self.js("return document.activeElement.matches(arguments[0])", selector):
                return
            self.keys("\ue004")
        raise AssertionError(f"Tab never comes to {selector}")

    def enter(self, selector: str) -> None:
        self.tab_to(selector)
        self.keys("\ue007")

    def errors(self) -> list[str]:
        """Return what the browser complained of: errors of scripts, and of the policy."""
        return [
            entry["message"]
            for entry in self.driver.get_log("browser")
            if entry["level"] == "SEVERE" and " 409 " not in entry["message"]
            and " 422 " not in entry["message"]
        ]  # fmt: skip

    def axe(self) -> list[str]:
        """Return the serious and critical violations that axe-core finds."""
        spec = importlib.util.find_spec("axe_core_python")
        if spec is None or spec.origin is None:
            if os.environ.get("CI") == "true":
                pytest.fail("axe-core-python is not installed")
            pytest.skip("axe-core-python is not installed")
        script = (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
        self.driver.execute_cdp_cmd("Runtime.evaluate", {"expression": script})
        found = self.driver.execute_async_script(
            "const done = arguments[0]; axe.run().then(r => done(r.violations"
            ".filter(v => ['serious', 'critical'].includes(v.impact))"
            ".map(v => v.id + ': ' +"
            " v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | '))))"
        )
        return list(found)

    def quit(self) -> None:
        self.driver.quit()
