#!/usr/bin/env bash
# Makes docs/images/*.png: the review page over the sample bursts, in headless Chromium, each below 300 kB.
# Needs a built program, tools/setup.sh --tests, and the package pngquant.
#   tools/screenshots.sh [PROGRAM]    default: build/burstsieve
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-build/burstsieve}")
command -v pngquant >/dev/null || { echo "screenshots: please install the package pngquant" >&2; exit 1; }
tests/serve-page/run.sh types >/dev/null # fetches what drives the browser
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
node tests/serve-page/screenshots.mjs "$program" "$work"
mkdir -p docs/images
for shot in "$work"/*.png; do
  pngquant --strip --speed 1 --quality 60-95 --output "docs/images/$(basename "$shot")" --force "$shot"
done
find docs/images -name '*.png' -size +300k -print | { ! grep . >&2 || { echo "screenshots: larger than 300 kB" >&2; exit 1; }; }
ls -l docs/images
