# What demo.sh and test.sh need before they can run; sourced by both. Safe to run again: it looks first and installs only
# what is missing.

say() { printf '%s\n' "$*"; }
fail() { printf '%s\n' "$*" >&2; exit 1; }

# as_root runs a command as root: directly, or through sudo.
as_root() {
  if [ "$(id -u)" -eq 0 ]; then
    "$@"
  else
    sudo "$@"
  fi
}

may_install() {
  command -v apt-get >/dev/null || return 1
  [ "$(id -u)" -eq 0 ] || command -v sudo >/dev/null
}

# install WHAT-FOR PACKAGE…  through apt, or says what to install by hand.
install() {
  local purpose=$1
  shift
  may_install || fail "Missing: $* ($purpose). Install it with your system's package manager, then run this again."
  say "Installing $* ($purpose) …"
  if [ -z "${apt_updated:-}" ]; then
    as_root apt-get update -qq </dev/null || fail "apt-get update did not work; see the lines above."
    apt_updated=yes
  fi
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" </dev/null >/dev/null ||
    fail "apt-get could not install $*; see the lines above."
}

need_go() {
  command -v go >/dev/null || fail "Go is missing. Install Go 1.26 or later from https://go.dev/dl/ and run this again."
}

# The server's programs are enough: tussock starts a private PostgreSQL of its own and uses no cluster of the system's.
need_postgres() {
  [ -z "${TUSSOCK_DATABASE_URL:-}" ] || return 0
  command -v initdb >/dev/null && return 0
  compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null && return 0
  install "the database" postgresql
}

need_chromium() {
  local name
  for name in chromium chromium-browser google-chrome google-chrome-stable; do
    command -v "$name" >/dev/null && return 0
  done
  install "the browser tests" chromium
}

# need_tools: programs of others that read back what the open files hold.
need_tools() {
  command -v xmllint >/dev/null || install "checking the open files" libxml2-utils
  command -v python3 >/dev/null || install "checking the open files" python3
  command -v pdftoppm >/dev/null || install "checking the field sheets" poppler-utils
  command -v pgbouncer >/dev/null || [ -x /usr/sbin/pgbouncer ] || install "checking shared connections" pgbouncer
}

# bring FILE-OF-NPM PLACE  copies where the two differ.
bring() {
  mkdir -p "$(dirname "$2")"
  cmp -s "web/node_modules/$1" "$2" || cp "web/node_modules/$1" "$2"
}

# need_web brings the chart library and the list of common passwords (and for tests the accessibility checker) from npm.
need_web() {
  local have=web/node_modules/.package-lock.json
  if [ ! -e "$have" ] || [ web/package-lock.json -nt "$have" ]; then
    command -v npm >/dev/null || install "the chart library and the common passwords" nodejs npm
    say "Bringing the chart library and the common passwords …"
    (cd web && npm ci --loglevel=error --no-progress </dev/null >/dev/null) || fail "npm ci in web/ did not work; see the lines above."
    touch "$have"
  fi
  bring echarts/dist/echarts.min.js web/static/vendor/echarts.min.js
  bring @zxcvbn-ts/language-common/src/passwords.json web/passwords/common.json
}
