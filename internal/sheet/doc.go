// Package sheet reads what people keep their seasons in as rows of text, each with its file, sheet and row number: CSV
// and other text in any common encoding, workbooks (XLSX, XLS, OpenDocument, XML of 2003), web pages, and archives of
// those. Of each cell it also tells what the spreadsheet shows: a color, a day, a line through it, a comment. It writes
// workbooks for people to fill in.
//
// It knows files, not nests: what a column means is for package intake to say. It judges a file by its bytes, never
// by its name, and refuses what it cannot read with a sentence for the sender.
//
// A workbook's cells are read in one pass into blocks of little memory (grid), since merged cells stand at its end; text
// is cut into cells as its rows are asked for. Neither expands entities, follows links or trusts a size that a file claims.
package sheet
