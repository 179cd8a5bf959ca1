-- A sheet that is being keyed may have been read from photos: which photo shows which page, and what a person has to look at.

-- +goose Up
ALTER TABLE tussock.key_draft ADD COLUMN photos jsonb NOT NULL DEFAULT '[]' CHECK (jsonb_typeof(photos) = 'array' AND length(photos::text) <= 60000);
GRANT INSERT (photos), UPDATE (photos) ON tussock.key_draft TO tussock_app;
