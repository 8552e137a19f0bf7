"""The report and the guide in headless Chromium: what the console says, what is asked of outside, how wide it is on a phone.

By hand, since it needs Chromium: ``python tests/report/in_a_browser.py FOLDER``. Pictures and printed pages go there.
The pages are opened with the network cut off (every name is resolved to nothing) and each request noted by Chromium itself.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
PHONE, DESK = (400, 2400), (1280, 2400)


def opened(page: Path, *words: str) -> tuple[str, list[str], list[str]]:
    """What Chromium printed (its DOM, where asked for), console messages, and addresses asked for outside of files."""
    with tempfile.TemporaryDirectory() as scratch:
        log = Path(scratch) / "net.json"
        done = subprocess.run(
            [
                shutil.which("chromium") or "chromium", "--headless=new", "--no-sandbox", "--disable-gpu",
                f"--user-data-dir={scratch}/profile", "--host-resolver-rules=MAP * ~NOTFOUND", "--hide-scrollbars",
                "--disable-background-networking",
                "--disable-features=OptimizationHints,OptimizationGuideModelDownloading",
                "--disable-component-update", "--no-first-run", "--enable-logging=stderr", f"--log-net-log={log}",
                "--virtual-time-budget=5000", *words, page.resolve().as_uri(),
            ],
            capture_output=True, text=True, timeout=180, check=False,
        )  # fmt: skip
        said = re.findall(r"CONSOLE[^\]]*\] (.*)", done.stderr)
        text = log.read_text(encoding="utf-8", errors="replace") if log.exists() else ""
        asked = sorted({f"{one[0]}://{one[1]}" for one in re.findall(r'"url":"(https?|wss?)://([^/"]+)', text)})
    return done.stdout, said, asked


def main(folder: Path) -> int:
    """Make the pages, open each; exit code 1 where anything is wrong."""
    folder.mkdir(parents=True, exist_ok=True)
    report = folder / "report.html"
    runs = sorted(str(path) for path in (ROOT / "recordings").glob("venue-0*.h5"))
    subprocess.run([sys.executable, "-m", "telemetry.cli", "report", *runs, "-o", str(report), "--force"], check=True)
    site = folder / "guide"
    build = [sys.executable, "-m", "mkdocs", "build", "-q", "-f", str(ROOT / "docs" / "mkdocs.yml"), "-d", str(site)]
    subprocess.run(build, check=True)
    empty = folder / "empty.html"
    empty.write_text("<!doctype html><title>empty</title>", encoding="utf-8")
    browsers = {*opened(empty)[2]}  # what Chromium asks for itself, whatever is opened
    wrong = 0
    measuring = "<script>document.title=document.documentElement.scrollWidth+'/'+innerWidth</script>"
    for page in [report, *sorted(one for one in site.glob("*.html") if one.name != "404.html")]:
        name = page.stem
        _, said, all_asked = opened(page, f"--window-size={DESK[0]},{DESK[1]}", f"--screenshot={folder / name}.png")
        asked = [one for one in all_asked if one not in browsers]
        opened(page, f"--print-to-pdf={folder / name}.pdf", "--no-pdf-header-footer")
        # Headless Chromium has a least width of about 500; a frame of a phone's width inside of it does as well.
        phone = page.with_name(f"{name}.phone.html")
        phone.write_text(page.read_text(encoding="utf-8").replace("</body>", f"{measuring}</body>"), encoding="utf-8")
        frame = page.with_name(f"{name}.frame.html")
        frame.write_text(
            f"<!doctype html><body style='margin:0'><iframe id=f src='{phone.name}' style='border:0;width:{PHONE[0]}px;"
            f"height:{PHONE[1]}px'></iframe><pre id=o></pre><script>f.onload=()=>{{try{{o.textContent='WIDE '+"
            "f.contentDocument.documentElement.scrollWidth}catch(e){o.textContent='WIDE ?'+e}}</script>", encoding="utf-8",
        )  # fmt: skip
        dom, _, _ = opened(frame, "--allow-file-access-from-files", "--disable-web-security", "--dump-dom")
        opened(frame, f"--window-size={PHONE[0] + 100},{PHONE[1]}", f"--screenshot={folder / name}-phone.png",
               "--allow-file-access-from-files")  # fmt: skip
        wide = re.search(r"WIDE ([^<]*)<", dom)
        wrong += bool(said or asked)
        print(json.dumps({"page": name, "console": said, "outside": asked, "of 400 px": wide and wide[1]}))
        phone.unlink()
        frame.unlink()
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
