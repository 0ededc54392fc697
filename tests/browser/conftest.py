"""The demo at twenty times real time, and a real browser before it."""

import shutil
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from playwright.async_api import Browser, async_playwright

from tests.browser.visit import Visit
from tools.weavers_yard.demo import Demo, Order

SPEED = 20.0
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--pictures", action="store_true", help="write the pictures that the README shows")


@pytest.fixture(scope="session")
def pictures(request: pytest.FixtureRequest) -> Path | None:
    """Where pictures go, if they were asked for."""
    wanted = request.config.getoption("--pictures", default=False)
    return Path(__file__).parent / "pictures" if wanted else None


@pytest.fixture(scope="session")
async def browser() -> AsyncIterator[Browser]:
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("there is no chromium here; install Debian's package chromium for the browser tests")
    async with async_playwright() as playwright:
        opened = await playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        yield opened
        await opened.close()


@pytest.fixture(scope="session")
async def demo(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Demo]:
    """Weavers' Yard, running since the first test that asked for it."""
    async with Demo(Order(http_port=0, ocpp_port=0, speed=SPEED), tmp_path_factory.mktemp("demo")) as running:
        yield running


@pytest.fixture
async def visit(browser: Browser, demo: Demo) -> AsyncIterator[Visit]:
    """A fresh browser before the demo; what it complains about fails the test."""
    async with Visit(browser, demo) as made:
        yield made
    assert made.complaints == []
    assert made.hosts <= {"127.0.0.1"}, "a page has asked another machine"
