#!/usr/bin/python3
"""Makes the files of this folder with other programs; see SOURCE.md. The data is invented."""
import datetime
import os
import subprocess
import zipfile

import openpyxl
import xlsxwriter
import xlwt
from odf import dc, office, opendocument, style, table, text
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils.datetime import CALENDAR_MAC_1904

D = datetime.date
HEAD = ["line", "nest", "set", "look 1", "state", "acres", "cam?", "left", "of", "share", "notes"]
ROWS = [
    ("A", 1, D(2025, 5, 12), D(2025, 5, 26), "ok", 12.0, True, 3, 4, "by the tank"),
    ("A", 2, D(2025, 5, 12), D(2025, 5, 26), "gone", 0.5, False, 0, 4, "café, “yes” ½"),
    ("A", 3, datetime.datetime(2025, 5, 12, 16, 30), D(2025, 5, 27), "ok", 1.1 + 0.1, True, 2, 4, None),
    (None, 4, D(2025, 5, 13), None, "ok", 1234567.25, None, 1, 4, "two\nlines"),
    ("B", 1, D(2025, 5, 13), D(2025, 5, 27), "hit", -0.125, True, 3, 4, "está ahí, ¿no?"),
]
TITLE = "Dry Fork, nests 2025 – niños ½ día"


def by_openpyxl():
    wb = openpyxl.Workbook()
    ws = wb.active
    ws.title = "Pasture 3"
    ws["A1"] = TITLE
    ws.merge_cells("A1:E1")
    for i, h in enumerate(HEAD, 1):
        ws.cell(3, i, h)
    for r, row in enumerate(ROWS, 4):
        for c, v in enumerate(row[:9] + ("=H%d/I%d" % (r, r), row[9]), 1):
            if v is not None:
                ws.cell(r, c, v)
        ws.cell(r, 3).number_format = "yyyy-mm-dd"
        ws.cell(r, 4).number_format = "d-mmm"
    ws["C6"].number_format = "m/d/yy h:mm"
    ws["D8"].number_format = "m/d"
    ws["J4"].number_format = "0%"
    ws["H4"].number_format = "0.00"
    ws["B5"].number_format = "000"
    ws.merge_cells("A6:A7")
    ws["E4"].fill = PatternFill("solid", fgColor="FF92D050")
    ws["E5"].fill = PatternFill("solid", fgColor="FFFF0000")
    ws["B7"].fill = PatternFill("solid", fgColor="FFFFFF00")
    ws["E8"].font = Font(strike=True)
    ws["E5"].comment = Comment("shell bits below", "A. Reyes")
    ws["L4"] = datetime.time(7, 30)
    ws["L4"].number_format = "h:mm"
    ws["L5"] = datetime.timedelta(hours=30)
    ws["L5"].number_format = "[h]:mm"
    ws.row_dimensions[7].hidden = True
    ws.column_dimensions["I"].hidden = True
    old = wb.create_sheet("2024 (old)")
    old["B2"] = "x"
    old["C2"] = D(2024, 5, 3)
    old["C2"].number_format = "d/m/yyyy"
    old.sheet_state = "hidden"
    wb.save("season-openpyxl.xlsx")

    mac = openpyxl.Workbook()
    mac.epoch = CALENDAR_MAC_1904
    mac.active.append(["nest", "set"])
    mac.active.append([1, D(2025, 5, 12)])
    mac.active["B2"].number_format = "m/d/yyyy"
    mac.save("mac1904-openpyxl.xlsx")


def by_xlsxwriter():
    """Text boxes, texts of several looks, colors of the theme's kind."""
    wb = xlsxwriter.Workbook("boxes-xlsxwriter.xlsx", {"strings_to_numbers": False})
    ws = wb.add_worksheet("key")
    bold, struck = wb.add_format({"bold": True}), wb.add_format({"font_strikeout": True})
    ws.write_row("A1", ["nest", "state"])
    ws.write("A2", 1)
    ws.write_rich_string("B2", bold, "gone ", "to the coyote")
    ws.write("A3", 2)
    ws.write_rich_string("B3", struck, "ok ", struck, "still")
    ws.write("A4", 3)
    ws.write("B4", "", wb.add_format({"bg_color": "#FFC000"}))
    ws.write_formula("B5", '=IF(1=1,"","x")', None, "")
    ws.write("A5", 4)
    ws.write_comment("B2", "seen twice", {"author": "B. Ortiz"})
    ws.insert_textbox("D2", "O = ok\nX = hit")
    wb.close()


def by_xlwt():
    wb = xlwt.Workbook()
    ws = wb.add_sheet("Pasture 3")
    day, short = xlwt.easyxf(num_format_str="yyyy-mm-dd"), xlwt.easyxf(num_format_str="d-mmm")
    ws.write_merge(0, 0, 0, 4, TITLE)
    for i, h in enumerate(HEAD[:8]):
        ws.write(2, i, h)
    for r, row in enumerate(ROWS, 3):
        for c, v in enumerate(row[:7]):
            if v is None:
                continue
            s = xlwt.Style.default_style
            if c == 2:
                s = day
            elif c == 3:
                s = short
            elif r == 4 and c == 4:
                s = xlwt.easyxf("pattern: pattern solid, fore_colour yellow")
            elif r == 7 and c == 4:
                s = xlwt.easyxf("font: struck_out on")
            ws.write(r, c, v, s)
        ws.write(r, 7, xlwt.Formula("B%d+1" % (r + 1)))
    ws.write(9, 0, "ñ" * 9000)  # goes on over two records
    ws.write_rich_text(10, 0, (("hit ", xlwt.easyfont("bold on")), ("by coyote", xlwt.easyfont("italic on"))))
    ws.row(6).hidden = True
    ws.row(6).height_mismatch = True
    ws.col(5).hidden = True
    old = wb.add_sheet("2024 (old)")
    old.visibility = 1
    old.write(1, 1, "x")
    wb.save("season-xlwt.xls")


def by_odfpy():
    doc = opendocument.OpenDocumentSpreadsheet()
    yellow = style.Style(name="yellow", family="table-cell")
    yellow.addElement(style.TableCellProperties(backgroundcolor="#ffff00"))
    doc.automaticstyles.addElement(yellow)
    t = table.Table(name="Pasture 3")

    def cell(v=None, **kw):
        c = table.TableCell(**kw)
        if v is not None:
            c.addElement(text.P(text=str(v)))
        return c

    for head in (["line", "nest", "set", "state"],):
        row = table.TableRow()
        for h in head:
            row.addElement(cell(h, valuetype="string"))
        t.addElement(row)
    t.addElement(table.TableRow(numberrowsrepeated=3))
    for n, state in ((1, "ok"), (2, "gone")):
        row = table.TableRow()
        row.addElement(cell("A", valuetype="string"))
        row.addElement(cell(n, valuetype="float", value=n))
        row.addElement(cell("May 12", valuetype="date", datevalue="2025-05-12"))
        c = cell(state, valuetype="string", stylename=yellow if n == 2 else None)
        if n == 2:
            note = office.Annotation()
            note.addElement(dc.Date(text="2025-05-26T00:00:00"))
            note.addElement(text.P(text="shell bits below"))
            c.insertBefore(note, c.childNodes[0])
        row.addElement(c)
        row.addElement(table.TableCell(formula="of:=[.B6]+1"))
        t.addElement(row)
    row = table.TableRow(numberrowsrepeated=2)
    row.addElement(cell("same", valuetype="string", numbercolumnsrepeated=3))
    t.addElement(row)
    t.addElement(table.TableRow(numberrowsrepeated=1048000))
    doc.spreadsheet.addElement(t)
    doc.save("season-odfpy.ods")


def run(*args):
    subprocess.run(args, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def by_libreoffice():
    for ext in ("xlsx", "xls", "ods", "fods", "html"):
        run("soffice", "--headless", "--convert-to", ext, "--outdir", "lo", "season-openpyxl.xlsx")
        os.replace("lo/season-openpyxl." + ext, "season-libreoffice." + ext)
    with open("plain.csv", "w") as f:
        f.write("line,nest,set,state\nA,1,2025-05-12,ok\nA,2,2025-05-13,gone\n")
    run("soffice", "--headless", "--convert-to", "xml:MS Excel 2003 XML", "--outdir", "lo", "plain.csv")
    os.replace("lo/plain.xml", "plain-libreoffice.xml")
    os.remove("plain.csv")
    os.rmdir("lo")


def by_gnumeric():
    run("ssconvert", "-T", "Gnumeric_Excel:excel_biff7", "season-openpyxl.xlsx", "season-gnumeric-biff5.xls")
    run("ssconvert", "-T", "Gnumeric_Excel:excel_biff8", "season-openpyxl.xlsx", "season-gnumeric-biff8.xls")
    run("ssconvert", "-T", "Gnumeric_OpenCalc:odf", "season-openpyxl.xlsx", "season-gnumeric.ods")
    run("ssconvert", "-T", "Gnumeric_Excel:xlsx2", "season-openpyxl.xlsx", "season-gnumeric.xlsx")
    run("ssconvert", "-T", "Gnumeric_html:html40", "season-openpyxl.xlsx", "season-gnumeric.html")


SPANISH = """línea;nido;puesto;revisión 1;qué se halló
A;1;12/05/2025;26/05/2025;está completo
A;2;12/05/2025;26/05/2025;se lo comió el coyote, ¿o un águila?
B;1;13/05/2025;27/05/2025;pisado por vacas (el becerro del señor Ibáñez)
"""


def by_iconv():
    for code in ("UTF-8", "UTF-16LE", "UTF-16BE", "WINDOWS-1252", "MACINTOSH", "CP437", "CP850", "ISO-8859-15"):
        out = subprocess.run(["iconv", "-f", "UTF-8", "-t", code], input=SPANISH.encode(), check=True, stdout=subprocess.PIPE).stdout
        with open("spanish-%s.csv" % code.lower(), "wb") as f:
            f.write(out)


def by_zip():
    with open("a.csv", "w") as f:
        f.write("line,nest\nA,1\n")
    for name in ("2024/nests.csv", "2025/nests.csv", "2025/.DS_Store", "__MACOSX/2025/._nests.csv", "2025/photo.jpg"):
        os.makedirs(os.path.dirname(name), exist_ok=True)
        with open(name, "wb") as f:
            f.write(b"\xff\xd8\xff\xe0 photo" if name.endswith("jpg") else b"line,nest\nA,1\n")
    os.remove("a.csv")
    if os.path.exists("years-zip.zip"):
        os.remove("years-zip.zip")
    run("zip", "-r", "-X", "years-zip.zip", "2024", "2025", "__MACOSX")
    run("rm", "-r", "2024", "2025", "__MACOSX")
    run("zip", "-P", "secret", "-j", "locked-zip.zip", "spanish-utf-8.csv")


if __name__ == "__main__":
    os.chdir(os.path.dirname(os.path.abspath(__file__)))
    by_openpyxl()
    by_xlsxwriter()
    by_xlwt()
    by_odfpy()
    by_libreoffice()
    by_gnumeric()
    by_iconv()
    by_zip()
