"""The print read by a PDF reader, the workbook by another library and reckoned again by a spreadsheet; what a terminal
shows while they are made."""

import csv
import itertools
import json
import math
import os
import pathlib
import pty
import re
import subprocess
import tempfile
import unittest

import openpyxl

PROGRAM, ROOT = os.environ["PROGRAM"], pathlib.Path(os.environ["ROOT"])
OUT = pathlib.Path(os.environ["OUT"])
JOB = str(ROOT / "fixtures/demo/grotto_wall.toml")
# The numbers of the book that the workbook offers: another value, its key and how the book writes it.
WRITTEN = {
    "mix.bag_mass": (57.0, "mix.bag_mass", '"57 lb"'),
    "mix.water": (12.5, "mix.water", '"12.5 lb"'),
    "mix.wet_density": (97.0, "mix.wet_density", '"97 lb/cu ft"'),
    "mix.cured_density": (71.0, "mix.cured_density", '"71 lb/cu ft"'),
    "waste.trowel": (0.3, "waste.trowel", '"30 %"'),
    "primer.coverage": (100.0, "primer.coverage", '"100 sq ft/gal"'),
    "primer.dilution, parts of water": (2.5, "primer.dilution", '"1:2.5"'),
    "colour.coverage": (140.0, "colour.coverage", '"140 sq ft/gal"'),
    "colour.coats": (3, "colour.coats", "3"),
    "sealer.coverage": (170.0, "sealer.coverage", '"170 sq ft/gal"'),
    "sealer.coats": (4, "sealer.coats", "4"),
    "coating.texture": (1.6, "coating.texture", "1.6"),
    "lath.waste": (0.35, "lath.waste", '"35 %"'),
    "lath.weight": (5.0, "lath.weight", '"5 lb/sq yd"'),
    "foam.density": (3.0, "foam.density", '"3 lb/cu ft"'),
}


def run(*words, ok=(0, 1)):
    done = subprocess.run([PROGRAM, *words], capture_output=True, text=True, check=False)
    assert done.returncode in ok, done.stderr
    return done.stdout


def flat(text):
    return re.sub(r"\s+", "", text)


def figures(value):
    """Every number of the report, with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from ((f"{key}.{path}", x) for path, x in figures(inner))
    elif isinstance(value, list):
        for k, inner in enumerate(value):
            yield from ((f"{k}.{path}", x) for path, x in figures(inner))
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield "", value


class Print(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.takeoff = json.loads(run("takeoff", JOB, "--json"))

    def text(self, paper):
        path = OUT / f"takeoff-{paper}.pdf"
        run("report", JOB, "--pdf", str(path), "--paper", paper, "--date", "1 May 2030")
        return path, subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, text=True, check=True).stdout

    def test_it_says_what_the_report_says(self):
        _, text = self.text("letter")
        squeezed = flat(text)
        for row in self.takeoff["order"] + self.takeoff["weights"]:
            self.assertIn(flat(row["sum"]), squeezed, row["item"])
            if row["packages"] is not None:
                self.assertRegex(text, rf"{re.escape(row['item'])}\s+{row['packages']} ", row["item"])
        for zone in self.takeoff["zones"]:
            area = zone["area_m2"]
            self.assertIn(flat(f"{area / 0.3048**2:.1f} sq ft ({area:.2f} m2)"), squeezed, zone["letter"])
        coated = self.takeoff["coated_area_m2"]
        self.assertIn(flat(f"{coated / 0.3048**2:.1f} sq ft ({coated:.2f} m2)"), squeezed)
        for caution in self.takeoff["cautions"]:
            self.assertIn(flat(caution), squeezed)

    def test_every_page_is_numbered_and_named(self):
        for paper, size in (("letter", (612.0, 792.0)), ("a4", (595.276, 841.89))):
            path, text = self.text(paper)
            info = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
            count = int(re.search(r"Pages:\s+(\d+)", info)[1])
            wide, high = map(float, re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info).groups())
            self.assertTrue(math.isclose(wide, size[0], abs_tol=0.01) and math.isclose(high, size[1], abs_tol=0.01))
            pages = text.split("\f")[:count]
            for number, page in enumerate(pages, 1):
                self.assertIn(f"page {number} of {count}", page)
                self.assertIn("grotto_wall.stl", page)
                self.assertIn("1 May 2030", page)

    def test_the_same_takeoff_prints_the_same_bytes(self):
        first, _ = self.text("letter")
        bytes_before = first.read_bytes()
        self.text("letter")
        self.assertEqual(bytes_before, first.read_bytes())


class Workbook(unittest.TestCase):
    @classmethod
    def workbook(cls):
        path = OUT / "as-written.xlsx"
        if not path.exists():
            run("report", JOB, "--xlsx", str(path))
        return openpyxl.load_workbook(path)

    def all_reckoned(self, changes):
        """The workbook through the spreadsheet once for each change, all formulas worked out anew."""
        folder = pathlib.Path(tempfile.mkdtemp(dir=OUT))
        paths = [folder / f"{k}.xlsx" for k in range(len(changes))]
        for path, change in zip(paths, changes):
            # Saved by the other library the cells hold no result, so what is read below comes from the spreadsheet.
            book = self.workbook()
            if change:
                change(book["Inputs"])
            book.save(path)
        subprocess.run(
            ["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML",
             "--outdir", folder / "again", *paths],
            check=True, capture_output=True, timeout=600,
        )
        return [openpyxl.load_workbook(folder / "again" / path.name, data_only=True) for path in paths]

    def reckoned(self, change=None):
        return self.all_reckoned([change])[0]

    def compare(self, book, takeoff):
        for sheet, lines in (("How much", takeoff["order"]), ("Weight", takeoff["weights"])):
            rows = {row[0]: row for row in book[sheet].iter_rows(min_row=2, values_only=True)}
            self.assertEqual(len(rows), len(lines))
            for line in lines:
                _, amount, _, exact, *_ = rows[line["item"]]
                self.assertTrue(math.isclose(exact, line["exact"], rel_tol=1e-9), f"{line['item']}: {exact} {line['exact']}")
                wanted = line["exact"] if line["packages"] is None else line["packages"]
                self.assertTrue(math.isclose(amount, wanted, rel_tol=1e-9), f"{line['item']}: {amount} {wanted}")

    def test_reckoned_again_it_is_the_same(self):
        self.compare(self.reckoned(), json.loads(run("takeoff", JOB, "--json")))

    def test_each_changed_input_changes_what_follows_as_in_the_program(self):
        """Each number of the book that the workbook offers, one at a time: the spreadsheet says what a fresh takeoff says."""
        text = (ROOT / "fixtures/demo/grotto_book.toml").read_text()
        book = self.workbook()
        inputs = [[cell.value for cell in row[:4]] for row in book["Inputs"].iter_rows(min_row=7)]
        inputs = [row for row in itertools.takewhile(lambda row: row[0], inputs) if row[3] == "material book"]
        self.assertEqual({row[0] for row in inputs}, set(WRITTEN))
        self.assertEqual(len(inputs), len(WRITTEN), "a number of the book has one cell")

        def change(name, value):
            def put(sheet):
                for row in sheet.iter_rows(min_row=7):
                    if row[0].value == name:
                        row[1].value = value
            return put

        values = {name: WRITTEN[name][0] for name, *_ in inputs}
        books = self.all_reckoned([change(name, value) for name, value in values.items()])
        for (name, (_, key, words)), book in zip(((name, WRITTEN[name]) for name in values), books):
            with self.subTest(name):
                own = OUT / "changed_book.toml"
                own.write_text(set_key(text, key, words))
                self.compare(book, json.loads(run("takeoff", JOB, "--book", str(own), "--json")))

    def test_every_figure_of_the_report_is_in_it(self):
        book = self.reckoned()
        cells = [cell for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row]
        numbers = sorted(float(cell) for cell in cells if isinstance(cell, (int, float)))
        words = " ".join(cell for cell in cells if isinstance(cell, str))
        self.assertIn("Cautions", book.sheetnames)
        takeoff = json.loads(run("takeoff", JOB, "--json"))
        # Places along the tape stand in the workbook as lengths in words. Areas by lifts are told by the text alone.
        spoken = ("schema", "x_low_m", "x_high_m", "z_low_m", "z_high_m", "centre_m", "near_limit_area_m2.", "size_in_file_units", "lift_areas")
        for path, value in figures(takeoff):
            if any(part in path for part in spoken):
                continue
            scales = (1.0, 1000.0, 0.001, 100.0, 1.0 / 0.0254)
            # Angles are told to a tenth of a degree.
            off = 0.05 + 1e-9 if "_deg" in path else 1e-12
            found = any(any(math.isclose(number, value * scale, rel_tol=1e-9, abs_tol=off) for number in numbers) for scale in scales)
            self.assertTrue(found, f"{path} {value} is not in the workbook")
        self.assertIn("centre", words)

    def test_the_table_holds_what_the_sheets_hold(self):
        path = OUT / "takeoff.csv"
        run("report", JOB, "--csv", str(path))
        with path.open(newline="") as file:
            lines = list(csv.DictReader(file))
        book = self.reckoned()
        self.assertEqual({line["section"][:31] for line in lines}, set(book.sheetnames) - {"Inputs"})
        for line in lines:
            sheet = list(book[line["section"][:31]].iter_rows(values_only=True))
            if words := re.sub(r"^'(?=[=+@-])", "", line["words"]):
                self.assertTrue(any(words in row for row in sheet), line)
                continue
            rows = [row for row in sheet if row[0] == line["row"]]
            cells = [cell for row in rows for cell in row if isinstance(cell, (int, float))]
            # The order list is reckoned in US units alone.
            for number in [line["us"]] if line["section"] in ("How much", "Weight") else [line["us"], line["metric"]]:
                self.assertTrue(any(math.isclose(float(number), cell, rel_tol=1e-9, abs_tol=1e-12) for cell in cells), line)


class Terminal(unittest.TestCase):
    def shown(self, *words):
        """What a terminal sees on standard error."""
        ours, theirs = pty.openpty()
        with subprocess.Popen([PROGRAM, *words], stdout=subprocess.DEVNULL, stderr=theirs) as running:
            os.close(theirs)
            seen = b""
            try:
                while piece := os.read(ours, 4096):
                    seen += piece
            except OSError:  # Linux says EIO when the other end is closed.
                pass
        os.close(ours)
        self.assertIn(running.returncode, (0, 1))
        return seen.decode()

    def test_a_bar_on_a_terminal_and_none_when_asked_to_be_quiet(self):
        words = ("report", JOB, "--pdf", str(OUT / "watched.pdf"))
        seen = self.shown(*words)
        bars = re.findall(r"\[(#*)\.*\] +(\d+) %  ([a-z, ]+), (?:about \d+ s|a second) left", seen)
        self.assertTrue(bars, seen)
        self.assertEqual([int(share) for _, share, _ in bars], sorted(int(share) for _, share, _ in bars))
        self.assertIn("drawing pictures", {stage for _, _, stage in bars})
        # Wiped at the end: the last that is written clears the line.
        self.assertTrue(seen.endswith("\r\x1b[K"), seen[-40:])
        self.assertEqual(self.shown(*words, "--quiet"), "")


def set_key(text, key, value):
    """The TOML with `table.name` set, whether it stands there or not."""
    table, name = key.split(".", 1)
    lines, out, inside, done = text.splitlines(), [], False, False
    for line in lines:
        if line.startswith("["):
            if inside and not done:
                out.append(f"{name} = {value}")
                done = True
            inside = line.strip() == f"[{table}]"
        if inside and re.match(rf"\s*{re.escape(name)}\s*=", line):
            line, done = f"{name} = {value}", True
        out.append(line)
    if not done:
        out += ([] if inside else [f"[{table}]"]) + [f"{name} = {value}"]
    return "\n".join(out) + "\n"


if __name__ == "__main__":
    unittest.main()
