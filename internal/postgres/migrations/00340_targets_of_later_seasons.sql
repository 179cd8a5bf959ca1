-- Targets hold for seasons that open after them, and for no earlier one, the first ever set among them. Those that were set before there were versions
-- held for all seasons, so they are of the seasons that have opened. What rows come to is worked out again: a line or nest that two sheets spell
-- otherwise is one.

-- +goose Up
UPDATE tussock.targets SET set_at = '2000-01-01' WHERE version = 1 AND set_by IS NULL;
UPDATE tussock.season s SET targets = 1 WHERE s.opened_at IS NOT NULL AND s.targets = 0
    AND EXISTS (SELECT 1 FROM tussock.targets t WHERE t.coop_id = s.coop_id AND t.version = 1 AND t.set_by IS NULL);
DELETE FROM tussock.finding;
