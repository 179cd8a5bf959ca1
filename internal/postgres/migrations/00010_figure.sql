-- Figures from models that a bulletin freezes beside its cells: the same gate for readers, and ten landowners at least.

-- +goose Up
CREATE TABLE pub.figure (
    coop_id uuid NOT NULL,
    season  integer NOT NULL,
    row     integer NOT NULL,
    kind    text NOT NULL CHECK (kind IN ('standardised', 'trend', 'cover', 'limits', 'quality')),
    place   text, -- NULL is the whole cooperative
    body    jsonb NOT NULL,
    n       integer NOT NULL CHECK (n >= 10), -- for the readers' gate alone: no role that serves pages may select it
    CONSTRAINT figure_pkey PRIMARY KEY (coop_id, season, row),
    CONSTRAINT figure_bulletin_fkey FOREIGN KEY (coop_id, season) REFERENCES pub.bulletin
);

ALTER TABLE pub.figure ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner ON pub.figure TO tussock_owner USING (true) WITH CHECK (true);
CREATE POLICY tenant ON pub.figure AS RESTRICTIVE TO tussock_app
    USING (coop_id = (SELECT tussock.my_coop())) WITH CHECK (coop_id = (SELECT tussock.my_coop()));
GRANT SELECT (coop_id, season, kind, place, body) ON pub.figure TO tussock_app;
GRANT SELECT, INSERT ON pub.figure TO tussock_press;
CREATE POLICY reader ON pub.figure FOR SELECT TO tussock_app
    USING (n >= (SELECT tussock.my_least()) AND n - (SELECT tussock.my_known()) >= 4);
CREATE POLICY press ON pub.figure FOR SELECT TO tussock_press USING (true);
CREATE POLICY press_add ON pub.figure FOR INSERT TO tussock_press WITH CHECK (true);

-- How many questions a sheet has left open is part of how well a season was carried out.
GRANT SELECT (open_count) ON tussock.upload TO tussock_press;
