"""A tab of headless Chromium, driven by selenium; shared by the tests of all pages."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest


def programs() -> tuple[str, str]:
    """Return the browser and its driver, or skip; where CI runs, fail."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    if browser is None or driver is None:
        why = "no chromium with chromedriver is installed: the page was not tried in a browser"
        if os.environ.get("CI") == "true":
            pytest.fail(why)
        pytest.skip(why)
    return browser, driver


class Browser:
    """A tab, and the few things that the tests do with it."""

    def __init__(self, profile: Path) -> None:
        from selenium import webdriver
        from selenium.webdriver.chrome.service import Service

        browser, driver = programs()
        options = webdriver.ChromeOptions()
        options.binary_location = browser
        for flag in (
            "headless=new",
            "no-sandbox",
            "disable-gpu",
            "disable-quic",
            "disable-dev-shm-usage",
            "no-first-run",
            "disable-background-networking",
            "disable-component-update",
            "disable-sync",
            "window-size=1280,900",
            f"user-data-dir={profile}",
        ):
            options.add_argument(f"--{flag}")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(executable_path=driver))
        self.driver.set_script_timeout(20)

    def js(self, code: str, *values: Any) -> Any:
        return self.driver.execute_script(code, *values)

    def wait(self, code: str, *values: Any) -> None:
        from selenium.webdriver.support.ui import WebDriverWait

        WebDriverWait(self.driver, 10, 0.03).until(lambda _: self.js(f"return {code}", *values))

    def open(self, address: str) -> None:
        self.driver.get("about:blank")
        self.driver.get(address)
        self.wait("document.documentElement.dataset.ready === '1'")

    def keys(self, *keys: str) -> None:
        from selenium.webdriver import ActionChains

        ActionChains(self.driver).send_keys(*keys).perform()

    def shown(self) -> list[str]:
        return list(
            self.js(
                "return [...document.querySelectorAll('.card')].filter(c => !c.hidden)"
                ".map(c => c.querySelector('.open').textContent)"
            )
        )

    def count(self) -> str:
        return str(self.js("return document.getElementById('count').textContent"))

    def choose(self, element: str, value: str) -> None:
        self.js(
            "const e = document.getElementById(arguments[0]); e.value = arguments[1];"
            "e.dispatchEvent(new Event(e.type === 'range' ? 'input' : 'change'));",
            element,
            value,
        )

    def click(self, selector: str) -> None:
        self.js("document.querySelector(arguments[0]).click()", selector)

    def fragment(self) -> str:
        self.wait("new Promise(done => setTimeout(() => done(true), 160))")
        return str(self.js("return location.hash"))

    def size(self, width: int, height: int, scale: float = 1) -> None:
        metrics = {
            "width": width,
            "height": height,
            "deviceScaleFactor": scale,
            "mobile": width < 500,
        }
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)

    def media(self, **features: str) -> None:
        listed = [{"name": k.replace("_", "-"), "value": v} for k, v in features.items()]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": listed})

    def log(self, kind: str) -> list[dict[str, Any]]:
        return list(self.driver.get_log(kind))  # type: ignore[no-untyped-call, unused-ignore]

    def complaints(self) -> list[str]:
        return [str(line["message"]) for line in self.log("browser")]

    def requests(self) -> list[str]:
        asked = []
        for line in self.log("performance"):
            message = json.loads(line["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.append(str(message["params"]["request"]["url"]))
        return asked
