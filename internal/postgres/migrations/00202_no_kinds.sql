-- What a question is about tells what was found: a coordinator reads how many there are.

-- +goose Up
ALTER TABLE tussock.upload DROP COLUMN open_kinds;
