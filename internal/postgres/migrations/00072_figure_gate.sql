-- What the reader's gate goes by is less than the number behind a figure where beside others it tells of a smaller place.
-- Behind each figure there are ten landowners as ever: that is the press's to keep.

-- +goose Up
ALTER TABLE pub.figure DROP CONSTRAINT figure_n_check, ADD CONSTRAINT figure_n_check CHECK (n >= 5);
