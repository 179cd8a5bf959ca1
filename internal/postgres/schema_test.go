package postgres_test

import (
	"context"
	"flag"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/postgres/pgtest"
)

var update = flag.Bool("update", false, "write schema.sql again")

// schema lists everything that the migrations made, from PostgreSQL's own catalog, so that it reads alike whichever
// version of pg_dump is at hand: tables with columns, constraints, indexes, policies and grants, then functions.
const schema = `
WITH ours AS (
	SELECT oid, relname, oid::regclass::text AS name, relacl, relrowsecurity, relforcerowsecurity, relowner FROM pg_class
	WHERE relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND relkind IN ('r', 'p', 'v', 'm', 'S')
), granted AS (
	SELECT o.oid, g.grantee, g.privilege_type, NULL AS attname, 0 AS attnum FROM ours o, aclexplode(o.relacl) g WHERE g.grantee <> o.relowner
	UNION ALL
	SELECT o.oid, g.grantee, g.privilege_type, a.attname::text, a.attnum FROM ours o JOIN pg_attribute a ON a.attrelid = o.oid AND NOT a.attisdropped, aclexplode(a.attacl) g
), lines (section, name, part, place, line) AS (
	SELECT 1, name, 0, '', 'TABLE ' || name || CASE WHEN relrowsecurity THEN ' ROW LEVEL SECURITY' ELSE '' END || CASE WHEN relforcerowsecurity THEN ' FORCED' ELSE '' END FROM ours
	UNION ALL
	SELECT 1, o.name, 1, to_char(a.attnum, '000'), '    ' || a.attname || ' ' || format_type(a.atttypid, a.atttypmod) || CASE WHEN a.attnotnull THEN ' NOT NULL' ELSE '' END
		|| coalesce(' DEFAULT ' || pg_get_expr(d.adbin, d.adrelid), '')
	FROM ours o JOIN pg_attribute a ON a.attrelid = o.oid AND a.attnum > 0 AND NOT a.attisdropped LEFT JOIN pg_attrdef d ON d.adrelid = o.oid AND d.adnum = a.attnum
	UNION ALL
	SELECT 1, o.name, 2, c.contype::text || c.conname, '    CONSTRAINT ' || c.conname || ' ' || pg_get_constraintdef(c.oid) FROM ours o JOIN pg_constraint c ON c.conrelid = o.oid AND c.contype <> 'n'
	UNION ALL
	SELECT 1, o.name, 3, i.indexrelid::regclass::text, '    ' || pg_get_indexdef(i.indexrelid) FROM ours o JOIN pg_index i ON i.indrelid = o.oid
	WHERE NOT EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid AND c.conrelid = o.oid)
	UNION ALL
	SELECT 1, o.name, 4, p.polname::text, '    POLICY ' || p.polname || CASE WHEN p.polpermissive THEN '' ELSE ' RESTRICTIVE' END
		|| CASE p.polcmd WHEN 'r' THEN ' FOR SELECT' WHEN 'a' THEN ' FOR INSERT' WHEN 'w' THEN ' FOR UPDATE' WHEN 'd' THEN ' FOR DELETE' ELSE '' END
		|| ' TO ' || (SELECT string_agg(r::regrole::text, ', ') FROM unnest(p.polroles) r)
		|| coalesce(' USING ' || pg_get_expr(p.polqual, p.polrelid), '') || coalesce(' WITH CHECK ' || pg_get_expr(p.polwithcheck, p.polrelid), '')
	FROM ours o JOIN pg_policy p ON p.polrelid = o.oid
	UNION ALL
	SELECT 1, o.name, 5, g.grantee::regrole::text || g.privilege_type, '    GRANT ' || g.privilege_type || coalesce(' (' || string_agg(g.attname, ', ' ORDER BY g.attnum) || ')', '') || ' TO ' || g.grantee::regrole::text
	FROM ours o JOIN granted g ON g.oid = o.oid GROUP BY o.name, g.grantee, g.privilege_type, g.attname IS NULL
	UNION ALL
	SELECT 2, p.oid::regprocedure::text, 0, '', rtrim(pg_get_functiondef(p.oid), E'\n') || coalesce(E'\n    GRANT EXECUTE TO ' ||
		(SELECT string_agg(g.grantee::regrole::text, ', ' ORDER BY g.grantee::regrole::text) FROM aclexplode(p.proacl) g WHERE g.grantee <> p.proowner), '')
	FROM pg_proc p WHERE p.pronamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
)
SELECT string_agg(line, E'\n' ORDER BY section, name COLLATE "C", part, place COLLATE "C", line COLLATE "C") || E'\n' FROM lines`

// TestSchema: what the migrations make is what schema.sql shows to whoever reviews them.
func TestSchema(t *testing.T) {
	f := pgtest.New(t)
	got, err := f.Owner.Text(context.Background(), schema)
	if err != nil {
		t.Fatal(err)
	}
	got = "-- What the migrations make, as PostgreSQL lists it. Written by: go test ./internal/postgres -run TestSchema -update\n\n" + got
	if *update {
		if err := os.WriteFile("schema.sql", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("schema.sql")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("schema.sql is not what the migrations make; after looking at it, run with -update (-want +got):\n%s", diff)
	}
}

// TestLowerNumberLater: a migration with a lower number than some that have run runs too, since numbers are given out by range.
func TestLowerNumberLater(t *testing.T) {
	f := pgtest.New(t)
	ctx := context.Background()
	for _, statement := range []string{"ALTER TABLE tussock.key_draft DROP COLUMN photos", "DELETE FROM migration.applied WHERE version_id = 45"} {
		if _, err := f.Owner.Exec(ctx, statement); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Owner.Migrate(ctx); err != nil {
		t.Fatal(err)
	}
	if n, err := f.Owner.Text(ctx, "SELECT count(photos)::text FROM tussock.key_draft"); err != nil || n != "0" {
		t.Errorf("%q drafts, %v", n, err)
	}
}
