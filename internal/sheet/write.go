package sheet

import (
	"io"

	"github.com/xuri/excelize/v2"
)

// A Blank is a worksheet for people to fill in.
type Blank struct {
	Name    string
	Columns []Column
	Rows    [][]string // below the headings
	Wrap    bool       // long text, wrapped, without a filter or drop-downs
}

// A Column is one column of a Blank.
type Column struct {
	Heading string
	Width   float64  // in characters
	Choices []string // offered in a drop-down; other words may still be typed
	Date    bool     // shown as a date
	Needed  bool     // its heading stands out
	Help    string   // shown beside a cell being filled in
}

// WriteWorkbook writes the sheets as an XLSX workbook. Cells are written as text, so nothing in them is ever worked
// out as a formula.
func WriteWorkbook(w io.Writer, sheets []Blank) error {
	f := excelize.NewFile()
	defer f.Close() // in memory only
	for i, s := range sheets {
		name := s.Name
		if i == 0 {
			if err := f.SetSheetName("Sheet1", name); err != nil {
				return err
			}
		} else if _, err := f.NewSheet(name); err != nil {
			return err
		}
		if err := writeBlank(f, s); err != nil {
			return err
		}
	}
	return f.Write(w)
}

func writeBlank(f *excelize.File, s Blank) error {
	heading, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	needed, err := f.NewStyle(&excelize.Style{
		Font:      &excelize.Font{Bold: true, Underline: "single"},
		Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"},
		Border:    []excelize.Border{{Type: "bottom", Style: 2, Color: "000000"}},
	})
	if err != nil {
		return err
	}
	iso := "yyyy-mm-dd"
	date, err := f.NewStyle(&excelize.Style{CustomNumFmt: &iso})
	if err != nil {
		return err
	}
	wrap, err := f.NewStyle(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	for c, col := range s.Columns {
		letter, err := excelize.ColumnNumberToName(c + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(s.Name, letter, letter, col.Width); err != nil {
			return err
		}
		switch {
		case s.Wrap:
			err = f.SetColStyle(s.Name, letter, wrap)
		case col.Date:
			err = f.SetColStyle(s.Name, letter, date)
		}
		if err != nil {
			return err
		}
		style := heading
		if col.Needed {
			style = needed
		}
		if err := f.SetCellStyle(s.Name, letter+"1", letter+"1", style); err != nil {
			return err
		}
		if err := f.SetCellStr(s.Name, letter+"1", col.Heading); err != nil {
			return err
		}
		if err := validate(f, s.Name, letter, col); err != nil {
			return err
		}
	}
	for r, row := range s.Rows {
		for c, value := range row {
			cell, err := excelize.CoordinatesToCellName(c+1, r+2)
			if err != nil {
				return err
			}
			if err := f.SetCellStr(s.Name, cell, value); err != nil {
				return err
			}
		}
	}
	return f.SetPanes(s.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

// validate offers the choices without forbidding other words, since a sheet may say what a list does not foresee.
func validate(f *excelize.File, sheet, letter string, col Column) error {
	if len(col.Choices) == 0 && col.Help == "" {
		return nil
	}
	v := excelize.NewDataValidation(true)
	v.SetSqref(letter + "2:" + letter + "2000")
	if len(col.Choices) > 0 {
		if err := v.SetDropList(col.Choices); err != nil {
			return err
		}
		v.ShowErrorMessage = false
	}
	if col.Help != "" {
		v.SetInput(col.Heading, col.Help)
	}
	return f.AddDataValidation(sheet, v)
}
