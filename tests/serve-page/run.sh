#!/usr/bin/env bash
# The tests of the review page, each an entry of ctest:
#   run.sh types              types of the page's modules, by tsc --checkJs
#   run.sh state              state, keys and arithmetic, by node's own test runner
#   run.sh browser [PROGRAM]  in headless Chromium: on the stand-in server, and on the real one where PROGRAM is given
#   run.sh bench [PROGRAM]    key to mark and first paint at 10,000 frames, printed
# Without node, npm or chromium a line beginning with SKIP says what is missing; in CI that is a failure.
set -euo pipefail
[ -z "${2:-}" ] || set -- "$1" "$(realpath "$2")"
cd "$(dirname "$0")"

skip() {
  [ -z "${CI:-}" ] || { echo "run.sh: $1 is missing, and CI installs it (tools/setup.sh --tests)" >&2; exit 1; }
  echo "SKIP: $1 is missing (tools/setup.sh --tests)"
  exit 0
}

# Pinned in package.json; one at a time, since ctest starts several of us at once.
install_packages() {
  command -v npm >/dev/null || skip npm
  local want
  want=$(sha256sum package.json)
  exec 9>.install.lock
  flock 9
  if [ "$(cat node_modules/.installed 2>/dev/null)" != "$want" ]; then
    npm install --silent --no-save || { [ -z "${CI:-}" ] || exit 1; echo "SKIP: npm could not fetch what the tests need"; exit 0; }
    echo "$want" >node_modules/.installed
  fi
  exec 9>&-
}

command -v node >/dev/null || skip node
case "${1:-}" in
  types)
    install_packages
    node_modules/.bin/tsc -p .
    echo "types are in order"
    ;;
  state) node --test state.test.mjs parts.test.mjs ;;
  browser)
    command -v chromium >/dev/null || skip chromium
    install_packages
    BURSTSIEVE_PROGRAM=${2:-} node --test browser-mock.test.mjs browser-real.test.mjs
    ;;
  bench)
    command -v chromium >/dev/null || skip chromium
    install_packages
    BURSTSIEVE_PROGRAM=${2:-} node bench.mjs
    ;;
  *) sed -n '2,7s/^# \{0,1\}//p' "$0" >&2; exit 2 ;;
esac
