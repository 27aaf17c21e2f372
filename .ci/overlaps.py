"""Whether texts of drawings and charts overlap or leave the sheet, and whether they are in contrast: measured in Chromium.

Usage: overlaps.py FILE.svg ... Needs `chromium`; its fonts decide, so Liberation Sans or Arial should be there.
"""

import html
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

MEASURE = """
const found = [];
for (const svg of document.querySelectorAll('svg.lw-drawing, svg.lw-chart')) {
  const sheet = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
  const k = sheet.width / svg.viewBox.baseVal.width;
  // Boxes hold the line's air too: letters take less than 0.8 of the height.
  const core = r => { const tall = r.height > r.width * 1.4 && r.height > 5 * k; const air = .12;
    return {l: r.left + (tall ? r.width * air : 0), r: r.right - (tall ? r.width * air : 0),
            t: r.top + (tall ? 0 : r.height * air), b: r.bottom - (tall ? 0 : r.height * air)}; };
  texts.forEach(([a, ra], i) => {
    const x = core(ra);
    if (x.l < sheet.left || x.r > sheet.right || x.t < sheet.top || x.b > sheet.bottom) found.push([svg.id, a, 'leaves the sheet']);
    texts.slice(i + 1).forEach(([b, rb]) => {
      const y = core(rb);
      if (x.l < y.r && y.l < x.r && x.t < y.b && y.t < x.b) found.push([svg.id, a, b]);
    });
  });
  found.push(['count', texts.length]);
  const style = getComputedStyle(svg);
  const rgb = name => { const c = document.createElement('canvas').getContext('2d'); c.fillStyle = style.getPropertyValue(name); const h = c.fillStyle;
    return [1, 3, 5].map(i => parseInt(h.slice(i, i + 2), 16) / 255).map(v => v <= .03928 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4); };
  const lum = name => { const [r, g, b] = rgb(name); return .2126 * r + .7152 * g + .0722 * b; };
  // Ink on the darkest shade of a matrix, a third of a colour over the paper.
  if (style.getPropertyValue('--lw-one')) {
    const channels = name => rgb(name).map(v => v <= .0031308 ? v * 12.92 : 1.055 * v ** (1 / 2.4) - .055);
    const one = channels('--lw-one'), paper = channels('--lw-paper');
    const mixed = one.map((v, i) => .35 * v + .65 * paper[i]).map(v => v <= .03928 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4);
    const shade = .2126 * mixed[0] + .7152 * mixed[1] + .0722 * mixed[2];
    for (const [ground, says] of [[shade, 'ink on shade']]) {
      const [a, b] = [lum('--lw-ink'), ground].sort((p, q) => q - p);
      if ((a + .05) / (b + .05) < 4.5) found.push([svg.id, says, (a + .05) / (b + .05)]);
    }
    const [a, b] = [lum('--lw-paper'), lum('--lw-one')].sort((p, q) => q - p);
    if ((a + .05) / (b + .05) < 4.5) found.push([svg.id, 'paper on bar', (a + .05) / (b + .05)]);
  }
  for (const [ink, ground] of [['--lw-ink', '--lw-paper'], ['--lw-fine', '--lw-paper'], ['--lw-ink', '--lw-floor']]) {
    const [a, b] = [lum(ink), lum(ground)].sort((p, q) => q - p);
    const ratio = (a + .05) / (b + .05);
    if (ratio < 4.5) found.push([svg.id, ink + ' on ' + ground, ratio]);
  }
}
document.body.innerHTML = '<pre id="found"></pre>';
document.getElementById('found').textContent = 'FOUND' + JSON.stringify(found) + 'DNUOF';
"""


def measured(file: pathlib.Path, dark: bool) -> list:
    work = pathlib.Path(tempfile.mkdtemp())
    try:
        page = work / "page.html"
        page.write_text(f"<!doctype html><meta charset=utf-8><body>{file.read_text()}<script>{MEASURE}</script>")
        scheme = f"--blink-settings=preferredColorScheme={0 if dark else 1}"
        out = subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync",
             f"--user-data-dir={work / 'profile'}", "--window-size=2000,1500", scheme, "--dump-dom", page.as_uri()],
            capture_output=True, text=True, timeout=120, check=True).stdout
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return json.loads(html.unescape(re.search("FOUND(.*)DNUOF", out).group(1)))


def main() -> None:
    files = [pathlib.Path(name) for name in sys.argv[1:]]
    texts, wrong = 0, 0
    for file in files:
        for dark in (False, True):
            for row in measured(file, dark):
                if row[0] == "count":
                    texts += row[1]
                else:
                    wrong += 1
                    print(f"{file.name}{' (dark)' if dark else ''}: {row}")
    print(f"{len(files)} drawings, {texts} texts in light and dark, {wrong} faults")
    sys.exit(wrong > 0 or texts == 0)


main()
