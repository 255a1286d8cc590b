#!/bin/sh
# Fetches the real files some tests and the metadata check use, by package name, into a cache outside the
# repository. Safe to repeat: what is there is left alone. Nothing fetched is ever committed.
#
#   tools/test-data.sh [--where] [camera] [photos] [raw]      default: all three groups
#
#   camera   maker notes: test files of the exiv2 and libimage-exiftool-perl source packages, one camera JPEG
#   photos   photographs and bird cut-outs from wallpaper and drawing packages
#   raw      raw files with real sensor data
#   --where  print the cache folder and stop
#
# The cache is $BURSTSIEVE_TEST_DATA, else ${XDG_CACHE_HOME:-$HOME/.cache}/burstsieve-test-data; one folder per
# package, its licence in PACKAGE/copyright. Needs apt-get, dpkg-dev, npm; no root.
set -eu

cache=${BURSTSIEVE_TEST_DATA:-${XDG_CACHE_HOME:-$HOME/.cache}/burstsieve-test-data}
say() { printf '%s\n' "$*"; }
die() { printf 'test-data: %s\n' "$*" >&2; exit 1; }

groups=
for argument in "$@"; do
  case $argument in
    camera | photos | raw) groups="$groups $argument" ;;
    --where) say "$cache"; exit 0 ;;
    -h | --help) sed -n '2,14s/^# \{0,1\}//p' "$0"; exit 0 ;;
    *) die "unknown group '$argument' (camera, photos, raw)" ;;
  esac
done
[ -n "$groups" ] || groups="camera photos raw"

for tool in apt-get dpkg-deb dpkg-source flock; do
  command -v "$tool" >/dev/null || die "$tool is needed (packages apt, dpkg, dpkg-dev, util-linux)"
done
mkdir -p "$cache/.stamps"
cache=$(cd "$cache" && pwd) # the fetching steps change directory
exec 9>"$cache/.lock"
if ! flock -n 9; then
  say "waiting for another run to finish"
  flock 9
fi

work=$(mktemp -d "$cache/.work.XXXXXX")
trap 'rm -rf "$work"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

# --- apt, with source packages switched on, in a configuration of its own -------------------------------------
# The machine's own sources are copied and extended, so no archive is named here and the machine's apt is not
# touched. An entry that offers no sources only costs a warning.
apt_ready=
prepare_apt() {
  [ -z "$apt_ready" ] || return 0
  parts=$work/apt/sources.d
  mkdir -p "$parts" "$work/apt/lists/partial" "$work/apt/archives/partial"
  number=0
  for list in /etc/apt/sources.list /etc/apt/sources.list.d/*.list; do
    [ -f "$list" ] || continue
    number=$((number + 1))
    sed -n -e '/^[[:space:]]*deb[[:space:]]/{p;s/^[[:space:]]*deb\([[:space:]]\)/deb-src\1/p;}' "$list" \
      >"$parts/$number.list"
  done
  for list in /etc/apt/sources.list.d/*.sources; do
    [ -f "$list" ] || continue
    number=$((number + 1))
    sed -e 's/^[Tt]ypes:.*/Types: deb deb-src/' "$list" >"$parts/$number.sources"
  done
  [ "$number" -gt 0 ] || die "this machine has no apt sources"
  say "reading package lists"
  run_apt update >"$work/apt-update.log" 2>&1 || say "  (apt-get update was not wholly successful; going on)"
  apt_ready=yes
}
run_apt() {
  apt-get -q -o Dir::Etc::sourcelist=/dev/null -o Dir::Etc::sourceparts="$work/apt/sources.d" \
    -o Dir::State::lists="$work/apt/lists" -o Dir::Cache::archives="$work/apt/archives" \
    -o Dir::Cache::pkgcache= -o Dir::Cache::srcpkgcache= -o APT::Sandbox::User= "$@"
}

# --- one package ------------------------------------------------------------------------------------------------
# fetch KIND PACKAGE PATH...: KIND is source, deb or npm; PATH are the files or folders to keep, as they stand in
# the unpacked package. Each ends up in the cache under PACKAGE/PATH, published by one rename.
fetch() {
  kind=$1 package=$2
  shift 2
  stamp=$cache/.stamps/$package
  wanted="$kind $*"
  if [ -f "$stamp" ] && [ "$(sed -n 1p "$stamp")" = "$wanted" ] && [ -d "$cache/$package" ]; then
    say "$package: already there"
    return 0
  fi
  say "$package: fetching"
  rm -f "$stamp"
  unpacked=$work/unpacked
  rm -rf "$work/download" "$unpacked" "$work/publish"
  mkdir -p "$work/download" "$work/publish"
  "fetch_$kind" "$package" >"$work/fetch.log" 2>&1 || {
    tail -n 5 "$work/fetch.log" >&2
    die "$package: could not be fetched"
  }
  for path in "$@"; do
    [ -e "$unpacked/$path" ] || die "$package: has no $path"
    mkdir -p "$work/publish/$(dirname "$path")"
    cp -R "$unpacked/$path" "$work/publish/$path"
  done
  for licence in "$unpacked/debian/copyright" "$unpacked/usr/share/doc/${package%%=*}/copyright" \
    "$unpacked/LICENSE" "$unpacked/package.json"; do
    if [ -f "$licence" ]; then
      cp "$licence" "$work/publish/copyright"
      break
    fi
  done
  [ -f "$work/publish/copyright" ] || say "  note: no copyright file in $package"
  rm -rf "${cache:?}/$package"
  mv "$work/publish" "$cache/$package"
  printf '%s\n%s\n' "$wanted" "$(cat "$work/version")" >"$stamp"
  say "  $(sed -n 2p "$stamp"): $(find "$cache/$package" -type f | wc -l) files," \
    "$(du -sh "$cache/$package" | cut -f1)"
}
fetch_source() {
  prepare_apt
  (cd "$work/download" && run_apt source --download-only "$1")
  dpkg-source --no-check -x "$work"/download/*.dsc "$unpacked"
  sed -n 's/^Version: //p' "$work"/download/*.dsc | head -n 1 >"$work/version"
}
fetch_deb() {
  prepare_apt
  (cd "$work/download" && run_apt download "$1")
  dpkg-deb -x "$work"/download/*.deb "$unpacked"
  dpkg-deb -f "$work"/download/*.deb Version >"$work/version"
}
fetch_npm() {
  command -v npm >/dev/null || { echo "npm is needed (package npm)"; return 1; }
  (cd "$work/download" && npm pack --silent --cache "$work/npm" "$1@$npm_version")
  mkdir -p "$unpacked"
  tar -xzf "$work"/download/*.tgz -C "$unpacked" --strip-components=1
  printf '%s\n' "$npm_version" >"$work/version"
}

# --- the groups -------------------------------------------------------------------------------------------------
for group in $groups; do
  say "[$group] into $cache"
  case $group in
    camera)
      fetch source exiv2 test/data
      fetch source libimage-exiftool-perl t/images
      npm_version=0.6.0
      fetch npm exif test/sony-alpha-6000.jpg
      ;;
    photos)
      fetch deb lomiri-wallpapers-20.04 usr/share/backgrounds
      fetch deb lomiri-wallpapers-16.04 usr/share/backgrounds
      fetch deb tuxpaint-stamps-default usr/share/tuxpaint/stamps/animals
      fetch deb mate-backgrounds usr/share/backgrounds
      fetch deb python3-skimage usr/lib/python3/dist-packages/skimage/data
      fetch source darknet data/dog.jpg data/eagle.jpg data/giraffe.jpg data/horses.jpg data/person.jpg
      fetch deb python3-sklearn usr/lib/python3/dist-packages/sklearn/datasets/images
      ;;
    raw)
      fetch source kimageformats autotests/read/raw
      fetch source halide apps/images/bayer_raw.png
      ;;
  esac
done
say "done"
