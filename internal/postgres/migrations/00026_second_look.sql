-- What a second person found at a visit, looking on their own: beside visit_state, '' where nobody did; NULL where nobody
-- looked twice at the nest. It is the ranch's own, and counted, rounded, for how well a season was carried out.
-- +goose Up
ALTER TABLE tussock.nest ADD COLUMN visit_second text[],
    ADD CONSTRAINT nest_second_check CHECK (visit_second IS NULL OR cardinality(visit_second) = cardinality(visit_on));
GRANT SELECT (visit_second) ON tussock.nest TO tussock_press;
