"""A page of the built-in demo shift in a browser."""

import os
import subprocess
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

BROWSER = os.environ.get("BROWSER_PATH", "/usr/bin/chromium")


@pytest.fixture(scope="session")
def report(tmp_path_factory):
    """The page, or the one that the caller names."""
    if "PAGE" in os.environ:
        return Path(os.environ["PAGE"]).resolve()
    to = tmp_path_factory.mktemp("page") / "demo.html"
    subprocess.run([os.environ["REPLAY"], "--quiet", "--report", to], check=True)
    return to


@pytest.fixture(scope="session")
def browser():
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def opened(browser, report):
    """Opens the page; what the browser complained of, and what it asked for, is kept."""
    contexts = []

    def open_page(width=1280, scheme="light", script=True):
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, java_script_enabled=script
        )
        contexts.append(context)
        page = context.new_page()
        page.complaints, page.requests = [], []
        page.on("console", lambda message: page.complaints.append(message.text))
        page.on("pageerror", lambda error: page.complaints.append(str(error)))
        page.on("request", lambda request: page.requests.append(request.url))
        page.goto(report.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
