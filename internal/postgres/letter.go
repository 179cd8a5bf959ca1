package postgres

import (
	"context"
	"time"
)

// A ConsentLetter is due to an owner about the yes for one ranch.
type ConsentLetter struct {
	Email       string
	Cooperative string
	Ranch       string
	Stage       string    // ConsentAsked, ConsentLast or ConsentLapsed
	Through     time.Time // the last day of the yes, midnight in UTC
}

// When an owner is written to about a yes.
const (
	ConsentAsked  = "ask"    // three months before it lapses
	ConsentLast   = "last"   // in its last fortnight
	ConsentLapsed = "lapsed" // when nobody renewed it
)

// ConsentLetters returns the letters that are due by the clock of db, each once. For package account alone.
func (db *DB) ConsentLetters(ctx context.Context) ([]ConsentLetter, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT address, coop_name, ranch_name, stage, through FROM tussock.consent_letters($1)", db.now())
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []ConsentLetter
	for rows.Next() {
		var l ConsentLetter
		if err := rows.Scan(&l.Email, &l.Cooperative, &l.Ranch, &l.Stage, &l.Through); err != nil {
			return nil, translate(err)
		}
		list = append(list, l)
	}
	return list, translate(rows.Err())
}

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
