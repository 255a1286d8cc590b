#!/usr/bin/env bash
# Installs what burstsieve needs from Debian's packages, by name. Safe to run again: it installs only what is missing and
# says what it does.
#   tools/setup.sh            what building and culling need
#   tools/setup.sh --tests    and what the tests compare with
#   tools/setup.sh --fuzz     and the compiler that the fuzz targets need
set -euo pipefail

build=(g++ cmake ninja-build ccache pkg-config libopencv-dev libraw-dev libexiv2-dev libsqlite3-dev libtbb-dev
  libcli11-dev libfmt-dev nlohmann-json3-dev libjpeg62-turbo-dev libxxhash-dev libseccomp-dev)
tests=(doctest-dev libopencv-contrib-dev liblcms2-dev libtiff-dev zlib1g-dev libimage-exiftool-perl libexempi-dev exempi libxml2-utils dcraw libraw-bin
  libjpeg-turbo-progs clang-format-14 dpkg-dev systemd)
fuzz=(clang-14 libclang-rt-14-dev)

want=("${build[@]}")
case "${1:-}" in
  "") ;;
  --tests) want+=("${tests[@]}") ;;
  --fuzz) want+=("${fuzz[@]}") ;;
  *) echo "usage: tools/setup.sh [--tests|--fuzz]" >&2; exit 2 ;;
esac

# The test-data script fetches one package with npm; a Node.js from elsewhere brings its own.
[ "${1:-}" != --tests ] || command -v npm >/dev/null || want+=(npm)

missing=()
for package in "${want[@]}"; do
  status=$(dpkg-query -W -f='${Status}' "$package" 2>/dev/null || true)
  [ "$status" = "install ok installed" ] || missing+=("$package")
done
if [ ${#missing[@]} -eq 0 ]; then
  echo "setup: all ${#want[@]} packages are installed"
  exit 0
fi

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null || { echo "setup: please install as root: ${missing[*]}" >&2; exit 1; }
  as_root=(sudo)
fi
echo "setup: installing ${missing[*]}"
"${as_root[@]}" apt-get update -qq
DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
echo "setup: done"
