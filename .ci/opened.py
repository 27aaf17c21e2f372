"""Opens what is printed with other programs' readers: DXF with ezdxf, the workbook with openpyxl and LibreOffice, the PDF
with poppler.

Usage: opened.py PROGRAM CELL PLAN ... (pairs). Units: the DXF is in millimetres, the plan in metres.
"""

import html.parser
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import ezdxf
import openpyxl
from ezdxf import bbox

GEOMETRY = {"CLEARANCE", "STATIONS", "TRACK", "MIDDLE", "ZONES", "CARRIERS", "SLOTS"}


def printed(program: str, command: list, cell: str, plan: str, to: pathlib.Path) -> None:
    subprocess.run([program, command[0], cell, plan, *command[1:], "--out", str(to)], check=True)


def dxf(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """Audit without errors; extents of the geometry are the footprint; loop length and counts are the plan's."""
    file = work / "plan.dxf"
    printed(program, ["draw", "--format", "dxf"], cell, plan, file)
    document = ezdxf.readfile(file)
    audit = document.audit()
    assert not audit.errors, [e.message for e in audit.errors]
    truth = json.loads(pathlib.Path(plan).read_text())
    space = document.modelspace()
    box = bbox.extents(e for e in space if e.dxf.layer in GEOMETRY)
    for size, key in ((box.size.x, "length_m"), (box.size.y, "width_m")):
        assert abs(size - 1000 * truth["footprint"][key]) < 0.01, (plan, key, size)
    missed = [e for e in space if e.dxf.layer == "KEEP_OUT" and e.dxftype() == "LINE"]
    assert len(missed) == 6 * len(truth["asked"].get("keep_out", [])), (plan, len(missed))
    feed = [e for e in space if e.dxf.layer == "FEED" and e.dxftype() == "LINE"]
    assert bool(feed) == bool(truth.get("feed")), (plan, len(feed))
    if feed:
        box = bbox.extents(feed)
        for size, key in ((box.size.x, "length_m"), (box.size.y, "width_m")):
            assert abs(size - 1000 * truth["feed"][key]) < 0.01, (plan, key, size)
    circuits = truth["circuits"]
    middle = [e for e in space if e.dxf.layer == "MIDDLE"]
    length = sum(e.dxf.start.distance(e.dxf.end) for e in middle if e.dxftype() == "LINE")
    length += sum(
        e.dxf.radius * ((e.dxf.end_angle - e.dxf.start_angle) % 360) * 3.141592653589793 / 180
        for e in middle if e.dxftype() == "ARC")
    if all(circuit["plane"] == "flat" for circuit in circuits):
        assert abs(length - 1000 * sum(circuit["loop_length_m"] for circuit in circuits)) < 0.01, (plan, length)
    inserts = [e.dxf.name for e in space.query("INSERT")]
    for number, circuit in enumerate(circuits, 1):
        suffix = "" if number == 1 else f"_{number}"
        assert inserts.count("CARRIER" + suffix) == sum(s["skus"][0]["batch"] for s in circuit["stations"]), (plan, number)
        assert inserts.count("SLOT" + suffix) == sum(s["skus"][0]["slots"] for s in circuit["sections"]), (plan, number)
    if len(circuits) == 1:
        assert sum(n.startswith("STATION_") for n in inserts) == sum(s["depth_m"] > 0 for s in circuits[0]["stations"])
    for station in (station for circuit in circuits for station in circuit["stations"]):
        text = [e.dxf.text for e in space.query("TEXT") if e.dxf.text.endswith(station["id"])]
        assert text, station["id"]


def cells(file: pathlib.Path) -> dict:
    """Every number of every sheet, by sheet and place."""
    book = openpyxl.load_workbook(file, data_only=True)
    return {(sheet.title, cell.coordinate): cell.value
            for sheet in book for row in sheet.iter_rows() for cell in row if isinstance(cell.value, (int, float))}


def workbook(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """Sheets and totals as the plan has them, formulas for the totals, and the same after LibreOffice has recalculated."""
    file = work / "book.xlsx"
    printed(program, ["report", "--format", "xlsx"], cell, plan, file)
    truth = json.loads(pathlib.Path(plan).read_text())
    circuits = truth["circuits"]
    several = len(circuits) > 1
    book = openpyxl.load_workbook(file)
    feed = truth.get("feed")
    first, more = ["Circuits"] if several else [], ["Feed"] if feed else []
    assert book.sheetnames == [
        "Summary", *first, "Stations", "Sections", "SKUs", *more, "Parts", "Assumptions", "Questions"], book.sheetnames
    if feed:
        lines = list(book["Feed"].iter_rows(min_row=2, values_only=True))
        assert [(row[0], row[1], row[4]) for row in lines[:len(feed["belts"]) * len(feed["skus"])]] == [
            (belt["id"], sku["id"], sku["speed_m_s"]) for belt in feed["belts"] for sku in belt["skus"]]
        assert [row[:4] for row in lines[-len(feed["skus"]):]] == [
            (sku["id"], sku["products_per_min"], sku["stacks_per_min"], sku["cases_per_min"]) for sku in feed["skus"]]
    assert book["Parts"]["D2"].value.startswith("=SUM(")
    # A column for the circuit comes first where there are several.
    start = 1 if several else 0
    for sheet, key, name, size, at in (("Stations", "stations", "id", "zone_m", 4), ("Sections", "sections", "from", "length_m", 3),
                                       ("SKUs", "skus", "id", "rate_per_min", 3)):
        lines = [row for row in book[sheet].iter_rows(min_row=2, values_only=True) if row[0] != "Total"]
        every = [(circuit["id"], one) for circuit in circuits for one in circuit[key]]
        other = 1 if sheet == "Sections" else 0
        assert [(row[start + other], row[start + at]) for row in lines] == [(one[name], one[size]) for _, one in every], sheet
        assert not several or [row[0] for row in lines] == [circuit for circuit, _ in every], sheet
    written = cells(file)
    if several:
        coupled(book, written, truth)
    assert abs(written["Parts", "D2"] - truth["price"]) < 1e-6
    assert abs(written["Summary", "B6"] - truth["footprint"]["area_m2"]) < 1e-9
    calculated(file, work)


def coupled(book: openpyxl.Workbook, written: dict, truth: dict) -> None:
    """Circuits with their shares, whose sums are the plan's; hand-offs named on both circuits, with one number, paid once."""
    circuits = truth["circuits"]
    last = len(circuits) + 2
    for row, circuit in enumerate(circuits, 2):
        assert book["Circuits"][f"A{row}"].value == circuit["id"]
        assert book["Circuits"][f"I{row}"].value.startswith("=SUMIF(")
        assert written["Circuits", f"F{row}"] == circuit["carriers"]
        for column, key in (("G", "floor_share_m2"), ("I", "price")):
            assert abs(written["Circuits", f"{column}{row}"] - circuit["place"][key]) < 1e-6
    assert written["Circuits", f"F{last}"] == written["Summary", "B7"] == sum(c["carriers"] for c in circuits)
    assert abs(written["Circuits", f"G{last}"] - truth["footprint"]["area_m2"]) < 1e-6
    assert abs(written["Circuits", f"I{last}"] - truth["price"]) < 1e-6
    lines = [row for row in book["Stations"].iter_rows(min_row=2, values_only=True) if row[0] != "Total"]
    every = [station for circuit in circuits for station in circuit["stations"]]
    assert [row[13] for row in lines] == [station.get("hands_to") for station in every]
    for row, station in zip(lines, every, strict=True):
        same = {other[2] for other in lines if other[1] == station["id"]}
        assert same == {row[2]} and (len([o for o in lines if o[1] == row[1]]) == 2) == ("hands_to" in station), row
    names = [row[0] for row in book["Parts"].iter_rows(min_row=3, values_only=True)]
    for station in every:
        assert names.count(f"station {station['id']}") == 1, station["id"]


def calculated(file: pathlib.Path, work: pathlib.Path) -> None:
    """LibreOffice comes to the same numbers."""
    written = cells(file)
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{work}/profile", "--convert-to",
         "xlsx:Calc MS Excel 2007 XML", "--outdir", str(work / "calculated"), str(file)],
        check=True, capture_output=True, timeout=120)
    again = cells(work / "calculated" / file.name)
    assert written.keys() == again.keys() and len(written) > 100
    for place, value in written.items():
        assert abs(value - again[place]) <= 1e-9 * max(1.0, abs(value)), (place, value, again[place])


def overlaps(file: pathlib.Path) -> list:
    """Words of a PDF that lie on one another: boxes hold the line's air too, so they are taken smaller."""
    out = subprocess.run(["pdftotext", "-bbox", file, "-"], check=True, capture_output=True, text=True).stdout
    found = []
    for page, text in enumerate(out.split("<page ")[1:], 1):
        words = []
        for match in re.finditer(r'<word xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">(.*?)</word>', text):
            left, top, right, bottom = map(float, match.groups()[:4])
            wide, high = right - left, bottom - top
            upright = high > wide * 1.3 and len(match[5]) > 1
            aside, above = (wide * 0.2, 0) if upright else (0.2, high * 0.25)
            words.append((left + aside, top + above, right - aside, bottom - above, match[5]))
        assert words, f"page {page} has no text"
        for i, a in enumerate(words):
            found += [(page, a[4], b[4]) for b in words[i + 1:]
                      if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]]
    return found


def alternatives(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """Sheets of variants, causes, points and levers hold what the documents do, and the sums of causes are their totals."""
    documents, options = {}, []
    for command, more in (
        ("compare", ["--variant", "slower: rate*0.7", "--variant", "quick wrap: stations/wrap/intermittent/base_s*0.8",
                     "--variant", "fails: stations/wrap/failures={\"mean_time_between_s\": 600, \"mean_time_to_repair_s\": 60}",
                     "--simulate", "--hours", "0.5", "--least", "4", "--most", "4"]),
        ("sweep", ["--over", "rate*0.8..1.2/5", "--crossover", "0"]),
        ("explain", []),
        ("front", []),
    ):
        file = work / f"{command}.json"
        run = subprocess.run([program, command, cell, "--json", *more], check=True, capture_output=True, text=True)
        file.write_text(run.stdout)
        documents[command] = json.loads(run.stdout)
        options += [f"--{command}", str(file)]
    file = work / "beside.xlsx"
    printed(program, ["report", "--format", "xlsx", *options], cell, plan, file)
    book = openpyxl.load_workbook(file, data_only=True)
    lines = {name: list(book[name].iter_rows(min_row=2, values_only=True)) for name in book.sheetnames[-6:]}
    assert list(lines) == ["Variants", "Causes", "Variants simulated", "Front", "Sweep", "Levers"], list(lines)
    area = lambda short: (short["footprint"] or {}).get("area_m2")

    def least(variant: dict) -> tuple:
        of = variant.get("simulated")
        found = [s for s in of["skus"] if s["id"] == of["least_sku"]] if of else []
        return (*found[0]["efficiency"].values(), found[0]["id"]) if found else (None, None, None)

    assert [(row[0], row[2]) for row in lines["Variants"]] == [
        (v["name"], area(v["plan"])) for v in documents["compare"]["variants"]]
    assert all(row[0] is not None and row[9:12] == least(v) for row, v in zip(lines["Variants"], documents["compare"]["variants"], strict=True))
    every = [(v["name"], s["id"], s["net_rate_per_min"]["mean"], s["efficiency"]["mean"], s["replications"])
             for v in documents["compare"]["variants"] for s in v.get("simulated", {}).get("skus", [])]
    assert any(share < 0.99 for *_, share, _ in every) and [
        (row[0], row[1], row[2], row[5], row[7]) for row in lines["Variants simulated"][:len(every)]] == every
    assert [(row[0], row[3]) for row in lines["Sweep"]] == [
        (p["value"], area(p["plan"])) for p in documents["sweep"]["points"]]
    plans = documents["front"]["plans"]
    assert plans and [(row[0], row[2], row[4], row[5]) for row in lines["Front"][:len(plans)]] == [
        (i, area(p), p["carriers"], p["price"]) for i, p in enumerate(plans, 1)]
    assert [(row[0], row[6]) for row in lines["Levers"]] == [
        (lever["says"], lever["floor_saved_m2"]) for lever in documents["explain"]["levers"]]
    for row, cause in zip(lines["Causes"], documents["compare"]["differences"], strict=True):
        assert abs(row[7] - cause["floor_m2"]["total"]) < 1e-6 and abs(row[11] - cause["carriers"]["total"]) < 1e-6
    calculated(file, work)


def operation(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """Sheets of a simulation hold what the document does; shares of each station make the whole."""
    file, book_file = work / "simulation.json", work / "operation.xlsx"
    done = subprocess.run([program, "simulate", cell, plan, "--json", "--most", "10"], capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    file.write_text(done.stdout)
    truth = json.loads(done.stdout)
    printed(program, ["report", "--format", "xlsx", "--simulation", str(file)], cell, plan, book_file)
    book = openpyxl.load_workbook(book_file, data_only=True)
    last = ["Losses"] if any(sku["losses"] for sku in truth["skus"]) else []
    assert book.sheetnames[-2 - len(last):] == ["Simulation", "States", *last], book.sheetnames
    lines = list(book["Simulation"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in lines] == [sku["id"] for sku in truth["skus"]]
    for row, sku in zip(lines, truth["skus"], strict=True):
        net = sku["net_rate_per_min"]
        assert abs(row[2] - net["mean"]) < 1e-9 and abs(row[5] - row[4] - 2 * net["half_width"]) < 1e-9
        assert abs(row[7] + 1 - net["mean"] / sku["asked_net_rate_per_min"]) < 1e-9
    lines = list(book["States"].iter_rows(min_row=2, values_only=True))
    assert len(lines) == sum(len(sku["stations"]) for sku in truth["skus"])
    heads = [cell.value for cell in book["States"][1]]
    whole = heads.index("Together")
    assert "Circuit" not in heads or [row[heads.index("Circuit")] for row in lines] == [
        station["circuit"] for sku in truth["skus"] for station in sku["stations"]]
    assert all(abs(row[whole] - 1) < 1e-6 and abs(sum(row[2:whole]) - row[whole]) < 1e-9 for row in lines)
    calculated(book_file, work)


def changes(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """The matrix, its longest and what is over the limit, the changes in full and the order are the document's; formulas
    come to the same in LibreOffice."""
    file, book_file = work / "changes.json", work / "changes.xlsx"
    subprocess.run([program, "changeover", cell, "--plan", plan, "--json", "--out", str(file)], check=True)
    truth = json.loads(file.read_text())["changeover"]
    printed(program, ["report", "--format", "xlsx", "--changeover", str(file)], cell, plan, book_file)
    book = openpyxl.load_workbook(book_file, data_only=True)
    assert book.sheetnames[-3:] == ["Changes", "Changes in full", "Order"], book.sheetnames
    names = [sku["id"] for sku in truth["skus"]]
    count = len(names)
    lines = list(book["Changes"].iter_rows(min_row=1, values_only=True))
    assert list(lines[0][1:count + 1]) == names
    for i, row in enumerate(lines[1:count + 1]):
        assert row[0] == names[i] and row[i + 1] is None
        assert all(abs(row[j + 1] - truth["matrix_s"][i][j] / 60) < 1e-9 for j in range(count) if i != j)
        assert abs(row[count + 1] - max(truth["matrix_s"][i]) / 60) < 1e-9
    said = {row[0]: row[1] for row in lines[count + 2:] if row[0]}
    assert said["Changes"] == truth["count"]["all"]
    assert abs(said["Minutes in the mean"] - truth["mean_s"] / 60) < 1e-9
    assert said["Longer than the limit"] == truth["count"]["over_limit"] and abs(said["Limit, minutes"] * 60 - truth["limit_s"]) < 1e-9
    full = list(book["Changes in full"].iter_rows(min_row=2, values_only=True))
    assert [(row[0], row[1]) for row in full] == [(c["from"], c["to"]) for c in truth["changes"]]
    assert all(abs(row[7] - c["total_s"]) < 1e-6 for row, c in zip(full, truth["changes"], strict=True))
    order = list(book["Order"].iter_rows(min_row=2, values_only=True))
    lots = truth["order"]["lots"]
    assert [row[1] for row in order[:len(lots)]] == [lot["sku"] for lot in lots]
    assert abs(order[len(lots)][2] - truth["order"]["total_s"] / 60) < 1e-9
    week = {row[0]: row[2] for row in order[len(lots) + 1:] if row[0]}
    assert abs(week["Availability after changes"] - truth["week"]["availability"]) < 1e-9
    assert abs(week["Minutes left over"] - truth["week"]["left_min"]) < 1e-6
    calculated(book_file, work)


class Words(html.parser.HTMLParser):
    """Texts of the body without drawings and charts."""

    def __init__(self) -> None:
        super().__init__()
        self.inside, self.drawn, self.all = False, 0, []

    def handle_starttag(self, tag: str, attributes: list) -> None:
        self.inside |= tag == "main"
        self.drawn += tag in ("svg", "figcaption")

    def handle_endtag(self, tag: str) -> None:
        self.inside &= tag != "main"
        self.drawn -= tag in ("svg", "figcaption")

    def handle_data(self, data: str) -> None:
        if self.inside and not self.drawn:
            self.all.append(data)


def close(text: str) -> str:
    return re.sub(r"\s", "", text)


def pdf(program: str, cell: str, plan: str, work: pathlib.Path) -> None:
    """All texts of the HTML report stand in the PDF; one page is the drawing's sheet; no page is empty or runs off its edge."""
    file, page = work / "report.pdf", work / "report.html"
    printed(program, ["report", "--format", "pdf"], cell, plan, file)
    printed(program, ["report"], cell, plan, page)
    words = Words()
    words.feed(page.read_text())
    # Lines are broken anywhere, also within long words: compared without blanks, text by text.
    text = close(subprocess.run(["pdftotext", "-raw", file, "-"], check=True, capture_output=True, text=True).stdout)
    assert len(words.all) > 500
    lost = [word for word in words.all if len(word) < 24 and close(word) not in text]
    assert len(lost) <= len(words.all) // 100, (plan, lost[:10])
    sizes = subprocess.run(["pdfinfo", "-l", "-1", file], check=True, capture_output=True, text=True).stdout
    pages = [tuple(float(n) for n in size) for size in re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", sizes)]
    sheets = [size for size in pages if size[0] > 600]
    assert len(sheets) == 1 and sheets[0][0] > sheets[0][1], pages
    assert not overlaps(file), (plan, overlaps(file)[:10])
    subprocess.run(["pdftoppm", "-gray", "-r", "36", file, work / "page"], check=True)
    pictures = sorted(work.glob("page-*.pgm"))
    assert len(pictures) == len(pages) > 8
    for picture in pictures:
        head, size, depth, dots = picture.read_bytes().split(b"\n", 3)
        assert (head, depth) == (b"P5", b"255")
        wide, high = map(int, size.split())
        rows = [dots[y * wide:(y + 1) * wide] for y in range(high)]
        assert min(dots) < 100, (plan, picture.name, "is empty")
        edge = 7  # 5 mm
        border = b"".join(rows[:edge] + rows[-edge:]) + b"".join(row[:edge] + row[-edge:] for row in rows)
        assert min(border) > 200, (plan, picture.name, "runs off its edge")


def main() -> None:
    program, *files = sys.argv[1:]
    count = 0
    for cell, plan in zip(files[::2], files[1::2]):
        if json.loads(pathlib.Path(plan).read_text())["status"] != "planned":
            continue
        with tempfile.TemporaryDirectory() as folder:
            dxf(program, cell, plan, pathlib.Path(folder))
            workbook(program, cell, plan, pathlib.Path(folder))
            pdf(program, cell, plan, pathlib.Path(folder))
            if pathlib.Path(cell).stem == "wraparound-glue":
                alternatives(program, cell, plan, pathlib.Path(folder))
            if pathlib.Path(cell).stem in ("short-changes", "pouch-changes"):
                changes(program, cell, plan, pathlib.Path(folder))
            if pathlib.Path(cell).stem in ("short-changes", "two-loops"):
                operation(program, cell, plan, pathlib.Path(folder))
        count += 1
    assert count >= 5
    print(f"{count} plans opened")


main()
