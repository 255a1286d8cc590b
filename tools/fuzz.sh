#!/usr/bin/env bash
# Builds the fuzz targets with clang and runs them one after the other from the seed corpora.
#   tools/fuzz.sh                     every target, 60 seconds each
#   tools/fuzz.sh TARGET [SECONDS]    one target (the stem of fuzz/<module>/<target>.cpp), or "all"
#   tools/fuzz.sh --list              the names of the targets
# New inputs gather in build-fuzz/found/TARGET, so that a later run goes on where this one stopped. What breaks a
# promise, crashes, hangs or takes too much memory ends up in build-fuzz/crashes/TARGET; run it again with
#   build-fuzz/fuzz/fuzz_TARGET FILE
set -euo pipefail
cd "$(dirname "$0")/.."

mapfile -t targets < <(cd fuzz && ls -- */*.cpp | grep -v -e '^support/' -e '^corpus/' | sed 's|.*/||; s|\.cpp$||' | sort)
case "${1:-all}" in
  --list) printf '%s\n' "${targets[@]}"; exit 0 ;;
  -*) sed -n '2,8s/^# \{0,1\}//p' "$0"; exit 2 ;;
  all) ;;
  *) targets=("$1") ;;
esac
seconds=${2:-60}

cmake -S . -B build-fuzz -G Ninja -DCMAKE_CXX_COMPILER=clang++-14 -DBURSTSIEVE_FUZZ=ON >/dev/null
cmake --build build-fuzz --parallel 2 --target burstsieve-fuzz-corpus "${targets[@]/#/fuzz_}"

cache=$(tools/test-data.sh --where)
camera=()
for folder in exiv2/test/data libimage-exiftool-perl/t/images exif/test kimageformats/autotests/read/raw; do
  [ ! -d "$cache/$folder" ] || camera+=("$cache/$folder")
done
[ ${#camera[@]} -gt 0 ] || echo "fuzz: no camera files in $cache (tools/test-data.sh fetches them); own seeds only"

# The raw and EXIF libraries keep global tables until exit, which the leak checker would report as ours.
export ASAN_OPTIONS=detect_leaks=0:detect_odr_violation=0:allocator_may_return_null=1:handle_abort=1
export UBSAN_OPTIONS=print_stacktrace=1
rm -rf build-fuzz/seeds
build-fuzz/fuzz/burstsieve-fuzz-corpus build-fuzz/seeds "${camera[@]}"

failed=()
for target in "${targets[@]}"; do
  echo "== $target, $seconds s"
  mkdir -p "build-fuzz/found/$target" "build-fuzz/crashes/$target"
  places=("build-fuzz/found/$target" "build-fuzz/seeds/$target")
  longest=16384
  case "$target" in
    capture | raw_header | mosaic | sniff | tiff | preview) places+=("${camera[@]}"); longest=65536 ;;
    jpeg) places+=("${camera[@]}") ;;
    merge | xml_scan) places+=(fuzz/hostile/merge) ;;
    preferences_json) places+=(fuzz/hostile/preferences_json) ;;
  esac
  "build-fuzz/fuzz/fuzz_$target" -max_total_time="$seconds" -max_len="$longest" -timeout=20 -rss_limit_mb=2048 \
    -malloc_limit_mb=700 -print_final_stats=1 -artifact_prefix="build-fuzz/crashes/$target/" \
    "${places[@]}" >"build-fuzz/$target.log" 2>&1 || failed+=("$target")
  grep -E 'ERROR|SUMMARY|broken promise|runtime error|stat::number_of_executed|DONE|BINGO|Test unit' \
    "build-fuzz/$target.log" || true
done
if [ ${#failed[@]} -gt 0 ]; then
  echo "fuzz: finds in ${failed[*]}: see build-fuzz/TARGET.log and build-fuzz/crashes/TARGET"
  exit 1
fi
echo "fuzz: no finds"
