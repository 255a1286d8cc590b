#!/usr/bin/env bash
# All tests, for people and CI alike.
#   tools/check.sh              build and run every test
#   tools/check.sh --sanitize   the same with address and undefined-behaviour sanitizers
#   tools/check.sh --sanitize-readers   of those only what reads foreign bytes or keeps records: CI's share
#   tools/check.sh --format     only whether clang-format would change anything
set -euo pipefail
cd "$(dirname "$0")/.."

check_format() {
  git ls-files '*.h' '*.cpp' | xargs clang-format-14 --dry-run --Werror
  echo "check: formatting is in order"
}

run_tests() { # folder, extra cmake arguments
  local folder=$1
  shift
  tools/setup.sh --tests
  tools/test-data.sh
  cmake -S . -B "$folder" -G Ninja -DBURSTSIEVE_TESTS=ON "$@" >/dev/null
  cmake --build "$folder"
  ctest --test-dir "$folder" --output-on-failure -j2
}

case "${1:-}" in
  "") run_tests build ;;
  --sanitize)
    # The raw and EXIF libraries keep global tables until exit, which the leak checker would report as ours.
    ASAN_OPTIONS=detect_leaks=0:detect_odr_violation=0 run_tests build-sanitize -DBURSTSIEVE_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug
    ;;
  --sanitize-readers)
    [ -d build/fuzz/corpus ] || { echo "check: run tools/check.sh first: the hostile files come from its build" >&2; exit 1; }
    cmake -S . -B build-sanitize -G Ninja -DBURSTSIEVE_TESTS=ON -DBURSTSIEVE_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug >/dev/null
    modules=(base model image camera decode sidecar catalog)
    fuzz=()
    for module in "${modules[@]}"; do
      for source in fuzz/"$module"/*.cpp; do [ ! -f "$source" ] || fuzz+=("$(basename "$source" .cpp)"); done
    done
    cmake --build build-sanitize --target "${modules[@]/#/test_}" "${fuzz[@]/#/fuzz_}"
    export ASAN_OPTIONS=detect_leaks=0:detect_odr_violation=0
    for name in "${fuzz[@]}"; do
      build-sanitize/fuzz/fuzz_"$name" --expect fuzz/hostile/"$name".txt build/fuzz/corpus/"$name" fuzz/hostile/"$name"
    done
    ctest --test-dir build-sanitize --output-on-failure -j2 -R "^($(IFS='|'; echo "${modules[*]}"))\$"
    ;;
  --format) check_format ;;
  *) echo "usage: tools/check.sh [--sanitize|--sanitize-readers|--format]" >&2; exit 2 ;;
esac
