package postgres

import "context"

// A KeeperLetter is due to somebody who owns a ranch, or did until lately.
type KeeperLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	Proposed    string // who was put onto it as an owner and waits for a yes; "" where the reader was taken off it
	By          string // who took the reader off
}

// KeeperLetters returns the letters that are due, each once. For package account alone.
func (db *DB) KeeperLetters(ctx context.Context) ([]KeeperLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, called, by_name FROM tussock.keeper_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []KeeperLetter
	for rows.Next() {
		var l KeeperLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.Proposed, &l.By); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// A SentForLetter is due to an owner for whom the coordinator has sent sheets.
type SentForLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	By          string // the coordinator
	Files       int
}

// SentForLetters returns the letters that are due, each once. For package account alone.
func (db *DB) SentForLetters(ctx context.Context) ([]SentForLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, by_name, files FROM tussock.sent_for_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []SentForLetter
	for rows.Next() {
		var l SentForLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.By, &l.Files); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// A WordLetter is due to an owner about what another owner of the ranch said to the comparisons.
type WordLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	By          string
	Yes         bool
	Counted     bool // whether the ranch takes part now
}

// WordLetters returns the letters that are due, each once. For package account alone.
func (db *DB) WordLetters(ctx context.Context) ([]WordLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, by_name, yes, counted FROM tussock.word_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []WordLetter
	for rows.Next() {
		var l WordLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.By, &l.Yes, &l.Counted); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// A SheetLetter is due to an owner about what another owner of the ranch did to a sheet that the reader had sent.
type SheetLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	By          string
	File        string
	Did         string // ReadSheet, UndidSheet or LetSheet
}

// SheetLetters returns the letters that are due, each once. For package account alone.
func (db *DB) SheetLetters(ctx context.Context) ([]SheetLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, by_name, file, did FROM tussock.sheet_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []SheetLetter
	for rows.Next() {
		var l SheetLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.By, &l.File, &l.Did); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// A RosterLetter is due to an owner about what a coordinator changed about one of their ranches, or its area, and to a landowner under
// whose name a coordinator put a ranch that is none of theirs.
type RosterLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	Kind        string // RanchRenamed, RanchMoved, RanchOwner, AreaRenamed, AreaGrouped, PaperYes or VouchEnded; RanchAdded under their name
	Was, Became string
	By          string
}

// RosterLetters returns the letters that are due, each once. For package account alone.
func (db *DB) RosterLetters(ctx context.Context) ([]RosterLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, kind, was, became, by_name FROM tussock.roster_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []RosterLetter
	for rows.Next() {
		var l RosterLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.Kind, &l.Was, &l.Became, &l.By); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

// An AskedLetter is due to an owner about questions on sheets of a ranch that have been open for three days.
type AskedLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	Sheets      int
}

// AskedLetters returns the letters that are due, one for each sheet. For package account alone.
func (db *DB) AskedLetters(ctx context.Context) ([]AskedLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, sheets FROM tussock.asked_letters()")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []AskedLetter
	for rows.Next() {
		var l AskedLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.Sheets); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}
