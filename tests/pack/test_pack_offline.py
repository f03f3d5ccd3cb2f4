"""A pack as an app: installed from an address, it opens and plays after the server is gone.

The server is Python's own on loopback, which browsers trust as they trust https; the browser is
Chromium.  Playwright tells every request, those of the service worker too, and the server's own
list is the second witness.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Locator, Page, sync_playwright

from browsers import AXE, DESK, PHONE, QUIET, TABLET, chromium_program
from icons import ASSETS, GROUND, ICONS, icon
from pack_builds import built, write_course
from reedmill.pack.pages.chapter import Front
from reedmill.pack.site.app_files import MOST_PICTURES, app_manifest, service_worker
from reedmill.pack.site.manifest import PackFile
from serving import serving

HOSTILE = 'Дорога </script><script>alert(1)</script> "\u202e'


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A browser that tells of a service worker's requests too (a switch of Playwright's own)."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PW_EXPERIMENTAL_SERVICE_WORKER_NETWORK_EVENTS", "1")
        with sync_playwright() as player:
            sound = "--autoplay-policy=no-user-gesture-required"
            found = player.chromium.launch(executable_path=chromium_program(), args=[*QUIET, sound])
            yield found
            found.close()


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that is served, with the pack in ``pack`` below it; only copies are changed."""
    folder = tmp_path_factory.mktemp("served")
    built(_course(folder), folder / "site" / "pack")
    return folder / "site"


def _course(folder: Path, tempi: Mapping[str, int] | None = None) -> Path:
    formats, more = '"page", "tab", "audio"', 'audio = ["mp3"]'
    return write_course(folder, formats=formats, more=more, tempi=tempi)


class Visit:
    """A student's browser at the pack."""

    def __init__(self, chromium: Browser) -> None:
        self.context: BrowserContext = chromium.new_context()
        self.asked: list[str] = []
        self.said: list[str] = []
        self.context.on("request", lambda request: self.asked.append(request.url))
        self.context.on("console", lambda message: self.said.append(message.text))
        self.context.on("weberror", lambda error: self.said.append(str(error.error)))
        self.page: Page = self.context.new_page()

    def wait_until(self, expression: str) -> None:
        """Wait until it is true; the page's policy forbids the browser's own way to do so."""
        for _ in range(400):
            if self.page.evaluate(expression):
                return
            self.page.wait_for_timeout(50)
        pytest.fail(f"{expression} did not come true: {self.said}")

    def install(self, address: str) -> None:
        """Open the index page and wait until its service worker holds the page."""
        self.page.goto(f"{address}index.html")
        self.wait_until("navigator.serviceWorker.controller !== null")
        self.wait_until("document.querySelector('.offline').hidden === false")

    def caches(self) -> list[str]:
        """The names of all caches of the address."""
        return list(self.page.evaluate("caches.keys()"))

    def kept(self) -> set[str]:
        """The paths in the one cache there is, from the pack's folder."""
        urls = self.page.evaluate(
            """async () => {
                const [name] = (await caches.keys()).filter((each) => each.includes('/pack/'));
                const cache = await caches.open(name);
                return (await cache.keys()).map((each) => each.url);
            }"""
        )
        return {each.partition("/pack/")[2] for each in urls}


@pytest.fixture
def visit(chromium: Browser) -> Iterator[Visit]:
    found = Visit(chromium)
    yield found
    found.context.close()


def files_of(pack: Path) -> dict[str, dict[str, Any]]:
    rows = json.loads((pack / "manifest.json").read_bytes())["files"]
    return {row["path"]: row for row in rows}


def test_an_installed_pack_opens_and_plays_when_the_server_is_gone(
    visit: Visit, site: Path
) -> None:
    with serving(site) as server:
        home = f"{server.address}pack/"
        visit.install(home)
        first = {
            path
            for path, row in files_of(site / "pack").items()
            if row["kind"] in {"page", "practice-page", "tab", "app-manifest", "icon"}
        }
        assert len([path for path in first if path.endswith(".page.html")]) == 3
        assert visit.kept() == first
        server.stop()
        visit.page.goto(f"{home}index.html")
        assert visit.page.locator("h1").inner_text() == "Evenings"
        visit.page.goto(home)  # a folder means its index page
        visit.page.locator(".practice a").first.click()
        assert visit.page.locator("h1").inner_text() == "Alpha"
        visit.page.evaluate(
            """() => {
                window.lit = [];
                document.addEventListener('reedmill-note', (e) => lit.push(e.detail.index));
            }"""
        )
        visit.page.click('[data-does="play"]')
        visit.wait_until("lit.length >= 2")
        assert visit.page.evaluate("lit") == [0, 1]
        visit.page.click(".home")
        assert visit.page.locator("h1").inner_text() == "Evenings"
        asked = {url.partition("#")[0].removeprefix(home) for url in visit.asked}
        beyond = asked - {"", "offline.js", *files_of(site / "pack")}
        assert {each for each in beyond if not each.startswith("data:")} == set()
        assert {each for each in server.asked if not each.startswith("/pack/")} <= {"/favicon.ico"}
    assert visit.said == []


def height(found: Locator) -> float:
    box = found.bounding_box()
    assert box is not None
    return box["height"]


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_the_practice_page_of_an_exercise_leads_back_and_has_no_barrier(
    visit: Visit, site: Path, size: tuple[int, int]
) -> None:
    visit.page.set_viewport_size({"width": size[0], "height": size[1]})
    index = (site / "pack" / "index.html").as_uri()
    visit.page.goto(index)
    titles = visit.page.locator(".exercise h3").all_inner_texts()
    for number, title in enumerate(titles):
        visit.page.locator(".practice a").nth(number).click()
        assert visit.page.locator("h1").inner_text() == title
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= size[0]
        visit.page.evaluate(AXE)
        found = visit.page.evaluate("axe.run()")["violations"]
        assert [(each["id"], each["impact"], each["nodes"]) for each in found] == []
        back = visit.page.locator(".home")
        assert height(back) >= 44
        back.click()
        assert visit.page.url == index
    assert titles == ["Alpha", "Beta", "Gamma"]
    assert visit.said == []


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_the_offer_to_keep_everything_has_no_barrier(
    chromium: Browser, site: Path, size: tuple[int, int]
) -> None:
    visit = Visit(chromium)
    with serving(site) as server:
        visit.page.set_viewport_size({"width": size[0], "height": size[1]})
        visit.install(f"{server.address}pack/")
        offer = visit.page.locator('[data-does="keep"]')
        assert offer.inner_text().startswith("Keep everything on this device (")
        assert height(offer) >= 44
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= size[0]
        visit.page.evaluate(AXE)
        found = visit.page.evaluate("axe.run()")["violations"]
        assert [(each["id"], each["impact"], each["nodes"]) for each in found] == []
    visit.context.close()


def test_what_is_heard_once_is_kept_and_the_rest_when_it_is_asked_for(
    visit: Visit, site: Path
) -> None:
    with serving(site) as server:
        home = f"{server.address}pack/"
        visit.install(home)
        files = files_of(site / "pack")
        [first, *others] = sorted(path for path in files if path.endswith(".mp3"))
        assert visit.kept().isdisjoint({first, *others})
        heard = visit.page.evaluate(
            """() => new Promise((resolve) => {
                const player = document.querySelector('audio');
                player.addEventListener('canplaythrough', () => resolve(player.currentSrc));
                player.muted = true;
                player.play();
            })"""
        )
        assert heard == f"{home}{first}"
        visit.wait_until(f"(async () => (await caches.match('{heard}')) !== undefined)()")
        assert visit.kept().isdisjoint(others)
        visit.page.click('[data-does="keep"]')
        visit.wait_until("document.getElementById('kept').textContent.startsWith('Everything')")
        assert visit.kept() == set(files) - {"offline.js"}
        server.stop()
        visit.page.goto(f"{home}index.html")
        part = visit.page.evaluate(
            """(url) => new Promise((resolve) => {
                const player = new Audio(url);
                player.addEventListener('seeked', () => resolve(player.currentTime));
                player.addEventListener('loadedmetadata', () => { player.currentTime = 0.4; });
                document.body.append(player);
            })""",
            f"{home}{others[0]}",
        )
        assert part == pytest.approx(0.4, abs=0.05)  # a range, answered by the worker
    assert visit.said == []


def test_a_device_that_cannot_fetch_everything_is_told_so(visit: Visit, site: Path) -> None:
    with serving(site) as server:
        visit.install(f"{server.address}pack/")
    visit.page.locator('[data-does="keep"]').click()
    said = "Not everything could be fetched. Try again with a network."
    visit.wait_until(f"document.getElementById('kept').textContent === {json.dumps(said)}")
    visit.page.wait_for_timeout(500)
    assert visit.page.locator("#kept").text_content() == said
    assert visit.page.locator('[data-does="keep"]').is_enabled()


def test_a_changed_pack_drops_its_own_old_cache_and_no_other(
    visit: Visit, site: Path, tmp_path: Path
) -> None:
    place = tmp_path / "site"
    shutil.copytree(site, place)
    with serving(place) as server:
        home = f"{server.address}pack/"
        visit.install(home)
        [old] = visit.caches()
        visit.page.evaluate(
            """async () => {
                for (const name of ['somebody else', `reedmill ${location.origin}/pack/2/ abc`]) {
                    await (await caches.open(name)).put('/x', new Response('x'));
                }
            }"""
        )
        others = set(visit.caches()) - {old}
        built(_course(site.parent, tempi={"Alpha": 90}), place / "pack")
        _course(site.parent)
        server.asked.clear()
        visit.page.goto(f"{home}index.html")  # the old page, and the browser finds a new worker
        visit.wait_until(f"(async () => !(await caches.keys()).includes({json.dumps(old)}))()")
        now = set(visit.caches())
        assert others < now
        assert len(now) == len(others) + 1
        visit.page.goto(f"{home}index.html")
        tempi = visit.page.locator(".exercise dd").all_inner_texts()
        assert "90" in tempi
        pages = [each for each in server.asked if each.endswith(".page.html")]
        assert len(pages) == 1, "only the page that changed is fetched again"
    assert visit.said == []


def test_a_file_that_is_not_the_one_that_was_built_is_not_kept(
    visit: Visit, site: Path, tmp_path: Path
) -> None:
    """A pack of which half is uploaded: what was kept before stays, and nothing new is taken."""
    place = tmp_path / "site"
    shutil.copytree(site, place)
    [page, *_] = sorted((place / "pack").rglob("*.page.html"))
    page.write_bytes(page.read_bytes() + b"<!-- not yet -->")
    with serving(place) as server:
        visit.page.goto(f"{server.address}pack/index.html")
        while not any(each.endswith(page.name) for each in server.asked):
            visit.page.wait_for_timeout(50)
        visit.wait_until(
            "(async () => !(await navigator.serviceWorker.getRegistration())?.installing)()"
        )
        assert visit.page.evaluate("navigator.serviceWorker.controller") is None
        assert visit.page.locator("h1").inner_text() == "Evenings"


def test_from_a_disk_a_pack_has_no_app_and_no_message(visit: Visit, site: Path) -> None:
    visit.page.goto((site / "pack" / "index.html").as_uri())
    visit.page.wait_for_timeout(300)
    assert visit.page.locator("link[rel=manifest]").count() == 0
    assert visit.page.locator(".offline").is_hidden()
    visit.page.locator(".practice a").first.click()
    assert visit.page.locator("h1").inner_text() == "Alpha"
    assert {each[:5] for each in visit.asked} == {"file:"}
    assert visit.said == []


def test_the_app_is_called_what_a_stranger_called_the_course() -> None:
    told = json.loads(app_manifest(Front(HOSTILE, about=HOSTILE, student="Ada")))
    assert told["name"] == f"{HOSTILE} (Ada)"
    assert (told["start_url"], told["scope"]) == ("./index.html", "./")
    # W3C, Web Application Manifest: sizes are width x height, a purpose is "any" or "maskable"
    sizes = {(each["sizes"], each["purpose"]) for each in told["icons"]}
    assert sizes == {("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")}


@pytest.mark.parametrize("name", ICONS)
def test_an_icon_is_as_its_script_draws_it(name: str) -> None:
    size, maskable = ICONS[name]
    found = Image.open(ASSETS / name)
    assert found.size == (size, size)
    assert np.array_equal(np.array(found), np.array(icon(size, maskable=maskable)))


def test_a_launcher_may_cut_the_maskable_icon_to_a_circle() -> None:
    """W3C, Web Application Manifest: the safe zone is a circle of 40 % of the width around it."""
    pixels = np.array(Image.open(ASSETS / "icon-maskable-512.png"))
    assert (pixels[..., 3] == 255).all()
    drawn = np.argwhere((pixels[..., :3] != GROUND).any(axis=-1))
    assert len(drawn) > 10_000
    assert np.hypot(*(drawn - 255.5).T).max() <= 0.4 * 512


def listed(worker: bytes) -> dict[str, list[Any]]:
    head = worker.partition(b"\n")[0].removeprefix(b"self.REEDMILL_PACK=").removesuffix(b";")
    return {row[0]: row for row in json.loads(head)["files"]}


def test_pictures_are_kept_at_the_first_visit_while_they_are_few() -> None:
    page = PackFile("a.page.html", "practice-page", 50_000, "1" * 64)
    for size, kept in ((MOST_PICTURES, 1), (MOST_PICTURES + 1, 0)):
        picture = PackFile("a.png", "sheet-png", size, "2" * 64)
        rows = listed(service_worker([page, picture]))
        assert (rows["a.page.html"][3], rows["a.png"][3]) == (1, kept)


def test_the_worker_is_another_one_when_any_file_is() -> None:
    before = [PackFile("a.mp3", "audio", 5, "1" * 64)]
    after = [PackFile("a.mp3", "audio", 5, "2" * 64)]
    assert service_worker(before) == service_worker(list(before))
    assert service_worker(before) != service_worker(after)


def test_the_list_of_the_worker_is_the_packs_own(site: Path) -> None:
    pack = site / "pack"
    rows = listed((pack / "offline.js").read_bytes())
    rest = {"offline.js", "manifest.json"}
    paths = {path.relative_to(pack).as_posix(): path for path in pack.rglob("*") if path.is_file()}
    paths = {name: path for name, path in paths.items() if not name.startswith(".reedmill")}
    assert set(rows) == set(paths) - rest
    for name, (_, digest, size, _) in rows.items():
        content = paths[name].read_bytes()
        assert (hashlib.sha256(content).hexdigest(), len(content)) == (digest, size)
