#!/usr/bin/env bash
# Runs every check of the project: formatting, modules, vet, staticcheck, and all tests with a real database and a real browser.
# Arguments go to "go test", for example: deploy/test.sh -run TestPages ./cmd/tussock
set -euo pipefail
cd "$(dirname "$0")/.."
. deploy/setup.sh

say "This installs PostgreSQL, Chromium, Node.js, Python, xmllint and Poppler if they are missing, then runs all checks."
need_go
need_postgres
need_chromium
need_tools
need_web

say "Formatting …"
unformatted=$(gofmt -l cmd internal web)
[ -z "$unformatted" ] || fail "Not in gofmt's form: $unformatted. Run: gofmt -w cmd internal web"
say "go mod tidy …"
go mod tidy -diff || fail "go.mod and go.sum list other modules than the code uses. Run: go mod tidy"
say "go vet …"
go vet ./...
say "staticcheck …"
# ST1012 wants ErrNotFound; ours read with their package, errs.NotFound.
go tool staticcheck -checks inherit,-ST1012 ./...

say "Tests …"
log=$(mktemp)
trap 'rm -f "$log"' EXIT
[ $# -gt 0 ] || set -- ./...
set +e
REQUIRE_DB=1 REQUIRE_BROWSER=1 REQUIRE_TOOLS=1 go test -v -count=1 -timeout 60m "$@" 2>&1 </dev/null | tee "$log" |
  grep -Ev '^ *(=== (RUN|PAUSE|CONT|NAME)|--- PASS)|^PASS$|no test files'
status=${PIPESTATUS[0]}
set -e

# A package that does not build, or that dies, has failed even though none of its tests could say so.
passed=$(grep -Ec '^ *--- PASS:' "$log" || true)
failed=$(grep -Ec '^ *--- FAIL:' "$log" || true)
if [ "$status" -ne 0 ] && [ "$failed" -eq 0 ]; then failed=1; fi
say "$passed passed, $failed failed"
exit "$status"
