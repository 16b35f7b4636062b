"""Loads pages in headless Chromium, as a reader does, and holds them to what a page must be.

`python3 tests/python/report_page.py FOLDER PAGE.html ...` writes pictures of each page at 1280 and at 400 pixels and its A4 pages
as PDF into FOLDER. A page must load without a word on the console and without asking for anything; each of its links must
lead to a place on it; it must not be wider than the screen; each picture must say in words what it shows; text must stand out
from its ground at 4.5 to 1 (WCAG 2.2, success criterion 1.4.3). Needs `chromium` and `chromedriver`; speaks the WebDriver protocol of
the W3C itself.
"""
import base64
import json
import pathlib
import subprocess
import sys
import time
import urllib.request

PORT = 9517
SWITCHES = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--hide-scrollbars",
]

# What is wrong with the page, as a list of sentences.
LOOK = """
const wrong = [];
for (const link of document.querySelectorAll('a')) {
  const to = link.getAttribute('href') || '';
  if (!to.startsWith('#') || !document.getElementById(to.slice(1))) wrong.push('a link leads to ' + to);
}
for (const picture of document.querySelectorAll('svg, img'))
  if (!(picture.getAttribute('aria-label') || '').trim()) wrong.push('a picture says nothing in words');
if (document.documentElement.scrollWidth > arguments[0])
  wrong.push('the page is ' + document.documentElement.scrollWidth + ' wide on ' + arguments[0]);
const light = colour => {
  const [r, g, b] = colour.match(/[\\d.]+/g).map(Number).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ground = element => {
  for (let at = element; at; at = at.parentElement) {
    const colour = getComputedStyle(at).backgroundColor;
    if (!/, 0\\)$/.test(colour)) return colour;
  }
  return 'rgb(255, 255, 255)';
};
let least = 99, texts = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const element = walk.currentNode.parentElement;
  if (!walk.currentNode.data.trim()) continue;
  texts += 1;
  const style = getComputedStyle(element);
  const ink = element.closest('svg') ? style.fill : style.color;
  const pair = [light(ink), light(ground(element))].sort((a, b) => b - a);
  const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);
  least = Math.min(least, ratio);
  if (ratio < 4.5) wrong.push('too faint (' + ratio.toFixed(1) + '): ' + walk.currentNode.data.trim().slice(0, 40));
}
const asked = performance.getEntriesByType('resource').map(entry => 'it asks for ' + entry.name);
return { wrong: wrong.concat(asked), links: document.querySelectorAll('a').length, pictures: document.querySelectorAll('svg').length, texts, least };
"""


def ask(path, body=None, method=None):
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(f"http://127.0.0.1:{PORT}{path}", data, {"Content-Type": "application/json"}, method=method)
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)["value"]


def look(session, page, wide, folder):
    at = f"/session/{session}"
    ask(f"{at}/goog/cdp/execute", {"cmd": "Emulation.setDeviceMetricsOverride",
        "params": {"width": wide, "height": 900, "deviceScaleFactor": 1, "mobile": wide < 600}})
    ask(f"{at}/url", {"url": page.resolve().as_uri()})
    seen = ask(f"{at}/execute/sync", {"script": LOOK, "args": [wide]})
    wrong = seen.pop("wrong")
    wrong += ["the console says: " + entry["message"] for entry in ask(f"{at}/se/log", {"type": "browser"})]
    shot = ask(f"{at}/goog/cdp/execute", {"cmd": "Page.captureScreenshot", "params": {"captureBeyondViewport": True}})
    (folder / f"{page.stem}.{wide}.png").write_bytes(base64.b64decode(shot["data"]))
    print(f"{page.name} at {wide}: {seen['links']} links, {seen['pictures']} pictures, {seen['texts']} texts, least contrast {seen['least']:.1f}")
    return [f"{page.name} at {wide}: {what}" for what in wrong]


def main(folder, pages):
    folder.mkdir(parents=True, exist_ok=True)
    driver = subprocess.Popen(["chromedriver", f"--port={PORT}"], stdout=subprocess.DEVNULL)
    session = None
    try:
        for _ in range(100):
            try:
                if ask("/status")["ready"]:
                    break
            except OSError:
                time.sleep(0.1)
        capabilities = {"browserName": "chrome", "goog:chromeOptions": {"args": SWITCHES}, "goog:loggingPrefs": {"browser": "ALL"}}
        session = ask("/session", {"capabilities": {"alwaysMatch": capabilities}})["sessionId"]
        wrong = []
        for page in pages:
            for wide in (1280, 400):
                wrong += look(session, page, wide, folder)
            paper = ask(f"/session/{session}/print", {"page": {"width": 21.0, "height": 29.7}, "background": True})
            (folder / f"{page.stem}.pdf").write_bytes(base64.b64decode(paper))
        for what in wrong[:40]:
            print(what)
        return int(bool(wrong))
    finally:
        if session:
            ask(f"/session/{session}", method="DELETE")
        driver.terminate()


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1]), [pathlib.Path(page) for page in sys.argv[2:]]))
