"""Debian's chromium, headless, driven by Playwright; without it tests are skipped, and say so."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def browser(request: pytest.FixtureRequest) -> Iterator[Browser]:
    path = os.environ.get("WINGREST_CHROMIUM") or shutil.which("chromium")
    missing = [] if path else ["Debian's chromium (apt-get install chromium)"]
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing.append("playwright (pip install 'wingrest[test]')")
    if missing:
        said = f"WARNING: the bench page was NOT TESTED in a browser: no {' and no '.join(missing)}"
        if os.environ.get("WINGREST_BROWSER") == "required":
            pytest.fail(said)
        reporter: Any = request.config.pluginmanager.get_plugin("terminalreporter")
        reporter.write_line(f"\n{said}", yellow=True, bold=True)
        pytest.skip(said)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield running
        running.close()
