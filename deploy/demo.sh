#!/usr/bin/env bash
# Runs the demo cooperative on this machine. Arguments go to "tussock demo"; see "tussock demo -h".
set -euo pipefail
cd "$(dirname "$0")/.."
. deploy/setup.sh

say "This installs PostgreSQL and Node.js if they are missing, builds Tussock and runs the demo at its own address."
say "Everything in the demo is invented, and nothing of it is kept unless you pass --data FOLDER. Ctrl-C ends it."
need_go
need_postgres
need_web
say "Building …"
go build -o tussock ./cmd/tussock

# open_browser waits until the demo answers. It gives up when the demo has ended: $1 is its process.
open_browser() {
  for _ in $(seq 120); do
    kill -0 "$1" 2>/dev/null || return 0
    if (exec 3<>"/dev/tcp/127.0.0.1/8080") 2>/dev/null; then
      xdg-open http://127.0.0.1:8080/ >/dev/null 2>&1
      return 0
    fi
    sleep 0.5
  done
}
if [ $# -eq 0 ] && [ -n "${DISPLAY:-}" ] && command -v xdg-open >/dev/null; then
  open_browser $$ &
fi
exec ./tussock demo "$@"
