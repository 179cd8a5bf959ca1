package survey

import (
	"fmt"
	"time"
)

// A Date is a calendar day without a time or a zone: day 1 is 1 January of the year 1 in the Gregorian calendar
// (the count known as Rata Die). The zero Date means "not known".
type Date int32

var dayOne = time.Date(1, time.January, 1, 0, 0, 0, 0, time.UTC)

// DateOf returns the given calendar day, or zero where there is no such day (30 February).
func DateOf(year int, month time.Month, day int) Date {
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if t.Year() != year || t.Month() != month || t.Day() != day || t.Before(dayOne) {
		return 0
	}
	return DateFrom(t)
}

// DateFrom returns the calendar day of t in t's own zone.
func DateFrom(t time.Time) Date {
	y, m, d := t.Date()
	midnight := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	return Date((midnight.Unix()-dayOne.Unix())/86400) + 1
}

// ParseDate reads an ISO 8601 calendar date, 2025-05-12.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("%q is not a date like 2025-05-12", s)
	}
	return DateFrom(t), nil
}

// Time returns midnight of d in UTC.
func (d Date) Time() time.Time { return dayOne.AddDate(0, 0, int(d)-1) }

// Year returns the calendar year of d.
func (d Date) Year() int { return d.Time().Year() }

// String returns the ISO 8601 form, or "" for the zero Date.
func (d Date) String() string {
	if d == 0 {
		return ""
	}
	return d.Time().Format(time.DateOnly)
}

// MarshalText and UnmarshalText use the ISO 8601 form.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Date) UnmarshalText(b []byte) (err error) {
	*d = 0
	if len(b) > 0 {
		*d, err = ParseDate(string(b))
	}
	return err
}
