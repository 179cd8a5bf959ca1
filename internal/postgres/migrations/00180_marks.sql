-- What a cooperative holds its figures against: clumps an acre that are called enough, the part of the nests that is hoped for, and the days
-- of the checks. All are practice, none a law of nature; the line says where they come from.

-- +goose Up
ALTER TABLE tussock.coop
    ADD COLUMN cover_mark integer NOT NULL DEFAULT 300 CONSTRAINT coop_cover_mark_check CHECK (cover_mark BETWEEN 20 AND 5000),
    ADD COLUMN hope integer NOT NULL DEFAULT 50 CONSTRAINT coop_hope_check CHECK (hope BETWEEN 5 AND 95),
    ADD COLUMN first_check integer NOT NULL DEFAULT 14 CONSTRAINT coop_first_check_check CHECK (first_check BETWEEN 1 AND 60),
    ADD COLUMN last_check integer NOT NULL DEFAULT 28 CONSTRAINT coop_last_check_check CHECK (last_check BETWEEN 2 AND 120 AND last_check > first_check),
    ADD COLUMN marks_from text NOT NULL DEFAULT '' CONSTRAINT coop_marks_from_check CHECK (length(marks_from) <= 300);
GRANT UPDATE (cover_mark, hope, first_check, last_check, marks_from) ON tussock.coop TO tussock_app;
