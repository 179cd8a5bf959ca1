#!/usr/bin/python3
"""Writes what other programs' libraries read from the workbooks of this folder, as FILE.json; see SOURCE.md."""
import datetime
import glob
import json
import os
import re

import openpyxl
import xlrd
from odf import opendocument, table
from odf.namespaces import OFFICENS, TABLENS, FONS, STYLENS
from odf.element import Element

FILLS = {"92D050": "green", "FF0000": "red", "FFFF00": "yellow", "FFC000": "orange", "99CC00": "green"}


def number(v, fmt="General"):
    if isinstance(v, bool):
        return "TRUE" if v else "FALSE"
    if "%" in fmt:
        return "%.15g%%" % (v * 100)
    if re.fullmatch("0+", fmt) and v == int(v):
        return str(int(v)).zfill(len(fmt))
    return "%.15g" % v


def clock(seconds):
    seconds = round(seconds)
    out = "%d:%02d" % (seconds // 3600, seconds // 60 % 60)
    return out + (":%02d" % (seconds % 60) if seconds % 60 else "")


def shown(fmt):
    """Whether a format shows a year, a day without one, or a time only."""
    fmt = re.sub(r'\[\$[^]]*\]|\\.|"[^"]*"', "", fmt.lower()).replace("am/pm", "")
    if "y" in fmt:
        return "year"
    return "no year" if "d" in fmt else "time"


def put(sheet, row, col, text, **looks):
    r = sheet["rows"].setdefault(str(row), {"cells": {}})
    if text != "":
        r["cells"][str(col)] = text
    for k, v in looks.items():
        if v:
            r.setdefault(k, {})[str(col)] = v


def from_openpyxl(name):
    out = []
    values, formulas = openpyxl.load_workbook(name, data_only=True), openpyxl.load_workbook(name)
    for ws in values:
        sheet = {"name": ws.title, "hidden": ws.sheet_state != "visible", "rows": {}}
        sheet["hiddenColumns"] = sorted(openpyxl.utils.column_index_from_string(k) - 1 for k, d in ws.column_dimensions.items() if d.hidden)
        sheet["merges"] = sorted([m.min_row, m.max_row, m.min_col - 1, m.max_col - 1] for m in ws.merged_cells.ranges)
        for row in ws.iter_rows():
            for c in row:
                v, date = c.value, ""
                if v is None:
                    v = ""
                elif isinstance(v, (datetime.datetime, datetime.date)) and shown(c.number_format) != "time":
                    v, date = v.strftime("%Y-%m-%d"), shown(c.number_format)
                elif isinstance(v, datetime.datetime):
                    v = clock((v - datetime.datetime(1899, 12, 30)).total_seconds())
                elif isinstance(v, datetime.time):
                    v = clock(v.hour * 3600 + v.minute * 60 + v.second)
                elif isinstance(v, datetime.timedelta):
                    v = clock(v.total_seconds())
                elif not isinstance(v, str):
                    v = number(v, c.number_format)
                unworked = c.value is None and formulas[ws.title][c.coordinate].data_type == "f"
                fill = c.fill.fgColor.rgb[-6:] if c.fill.fill_type == "solid" and isinstance(c.fill.fgColor.rgb, str) else ""
                if v or unworked or FILLS.get(fill) or c.comment:
                    put(sheet, c.row, c.column - 1, v, date=date, fill=FILLS.get(fill, ""), struck=bool(c.font.strike),
                        comment=c.comment.text.strip() if c.comment else "", unworked=unworked)
        for r in sheet["rows"]:
            sheet["rows"][r]["hidden"] = bool(ws.row_dimensions[int(r)].hidden)
        out.append(sheet)
    return out


def from_xlrd(name):
    out = []
    wb = xlrd.open_workbook(name, formatting_info=True)
    for ws in wb.sheets():
        sheet = {"name": ws.name, "hidden": ws.visibility != 0, "rows": {}}
        sheet["hiddenColumns"] = sorted(k for k, i in ws.colinfo_map.items() if i.hidden)
        sheet["merges"] = sorted([a + 1, b, c, d - 1] for a, b, c, d in ws.merged_cells)
        for r in range(ws.nrows):
            for c in range(ws.row_len(r)):
                cell = ws.cell(r, c)
                xf = wb.xf_list[cell.xf_index]
                fmt, date, v = wb.format_map[xf.format_key].format_str, "", cell.value
                if cell.ctype == xlrd.XL_CELL_DATE:
                    if shown(fmt) == "time":
                        v = clock((v if "[" in fmt else v % 1) * 86400)
                    else:
                        date = shown(fmt)
                        v = datetime.datetime(*xlrd.xldate_as_tuple(v, wb.datemode)).strftime("%Y-%m-%d")
                elif cell.ctype == xlrd.XL_CELL_NUMBER:
                    v = number(v, fmt)
                elif cell.ctype == xlrd.XL_CELL_BOOLEAN:
                    v = number(bool(v))
                rgb = wb.colour_map.get(xf.background.pattern_colour_index) if xf.background.fill_pattern == 1 else None
                fill = FILLS.get("%02X%02X%02X" % rgb, "") if rgb else ""
                note = ws.cell_note_map.get((r, c))
                if v != "" or fill or note:
                    put(sheet, r + 1, c, v, date=date, fill=fill, struck=bool(wb.font_list[xf.font_index].struck_out), comment=note.text.strip() if note else "")
        for r in sheet["rows"]:
            info = ws.rowinfo_map.get(int(r) - 1)
            sheet["rows"][r]["hidden"] = bool(info and info.hidden)
        out.append(sheet)
    return out


def textof(node):
    """The text of a cell's paragraphs, without its comment."""
    parts = []
    for n in node.childNodes:
        if isinstance(n, Element) and n.tagName == "text:p":
            parts.append("".join("\n" if isinstance(k, Element) and k.tagName == "text:line-break" else str(k) for k in n.childNodes))
    return "\n".join(parts)


def from_odfpy(name):
    out = []
    doc = opendocument.load(name)
    styles = {s.getAttrNS(STYLENS, "name"): s for s in doc.getElementsByType(__import__("odf.style", fromlist=["Style"]).Style)}

    def properties(style, tag, ns, key):
        for p in styles[style].childNodes if style in styles else []:
            if p.tagName == tag and p.getAttrNS(ns, key):
                return p.getAttrNS(ns, key)
        return ""

    for t in doc.body.getElementsByType(table.Table):
        hidden = properties(t.getAttrNS(TABLENS, "style-name"), "style:table-properties", TABLENS, "display")
        sheet = {"name": t.getAttrNS(TABLENS, "name"), "hidden": str(hidden) == "false", "rows": {}, "hiddenColumns": [], "merges": []}
        col, defaults = 0, []
        for c in t.getElementsByType(table.TableColumn):
            n = int(c.getAttrNS(TABLENS, "number-columns-repeated") or 1)
            if c.getAttrNS(TABLENS, "visibility") == "collapse":
                sheet["hiddenColumns"] += list(range(col, col + n))
            defaults.append((col + n, c.getAttrNS(TABLENS, "default-cell-style-name")))
            col += n
        row = 0
        for r in t.getElementsByType(table.TableRow):
            col, rows = 0, int(r.getAttrNS(TABLENS, "number-rows-repeated") or 1)
            for c in (n for n in r.childNodes if isinstance(n, Element) and n.tagName in ("table:table-cell", "table:covered-table-cell")):
                n = int(c.getAttrNS(TABLENS, "number-columns-repeated") or 1)
                kind = c.getAttrNS(OFFICENS, "value-type")
                style = c.getAttrNS(TABLENS, "style-name") or next((s for to, s in defaults if col < to), None)
                v, date = textof(c), ""
                if kind == "date":
                    v = c.getAttrNS(OFFICENS, "date-value")[:10]
                    date = "year" if re.search(r"\d{4}|\d+/\d+/\d+", textof(c)) else "no year"
                elif kind == "boolean":
                    v = number(c.getAttrNS(OFFICENS, "boolean-value") == "true")
                elif kind == "percentage" or kind == "float" and v.endswith("%"):
                    v = number(float(c.getAttrNS(OFFICENS, "value")), "%")
                elif kind == "float" and not re.match(r"0\d", v) and not v.isalpha():
                    v = number(float(c.getAttrNS(OFFICENS, "value")))
                across, down = int(c.getAttrNS(TABLENS, "number-columns-spanned") or 1), int(c.getAttrNS(TABLENS, "number-rows-spanned") or 1)
                if across * down > 1:
                    sheet["merges"].append([row + 1, row + down, col, col + across - 1])
                color = str(properties(style, "style:table-cell-properties", FONS, "background-color"))
                fill = FILLS.get(color.lstrip("#").upper(), "")
                struck = str(properties(style, "style:text-properties", STYLENS, "text-line-through-style")) not in ("", "none")
                notes = [textof(a) for a in c.childNodes if isinstance(a, Element) and a.tagName == "office:annotation"]
                unworked = bool(c.getAttrNS(TABLENS, "formula")) and not kind
                if (v or fill or unworked) and n < 100:
                    for i in range(n):
                        for k in range(rows):
                            put(sheet, row + k + 1, col + i, v, date=date, fill=fill, struck=struck, comment="".join(notes), unworked=unworked)
                            sheet["rows"][str(row + k + 1)]["hidden"] = r.getAttrNS(TABLENS, "visibility") in ("collapse", "filter")
                col += n
            row += rows
        sheet["merges"].sort()
        out.append(sheet)
    return out


if __name__ == "__main__":
    os.chdir(os.path.dirname(os.path.abspath(__file__)))
    for ext, read in (("xlsx", from_openpyxl), ("xls", from_xlrd), ("ods", from_odfpy)):
        for name in sorted(glob.glob("*." + ext)):
            with open(name + ".json", "w") as f:
                json.dump(read(name), f, ensure_ascii=False, sort_keys=True, indent=1)
                f.write("\n")
