-- The day on which a trail camera recorded that a nest was lost, where one did. Like all of a nest it is its owners' own; copies for a
-- bulletin have it, bulletins only whether such days fit the looks.

-- +goose Up
ALTER TABLE tussock.nest ADD COLUMN camera_on date;
