#!/usr/bin/env bash
# Builds burstsieve and culls a copy of the sample bursts, to show what it does. The samples themselves stay as they are.
#   tools/try.sh [FOLDER]     where the copy goes (default: out/try)
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
out=${1:-$here/out/try}
"$here/tools/setup.sh" --detector
# Tests need further packages; a build folder that has them keeps them.
[ -f "$here/build/build.ninja" ] || cmake -S "$here" -B "$here/build" -G Ninja -DBURSTSIEVE_TESTS=OFF >/dev/null
cmake --build "$here/build" --target burstsieve
# Only what this script itself made is replaced; any other folder with something in it is somebody's.
if [ -d "$out" ] && [ -n "$(ls -A "$out")" ] && [ ! -f "$out/.made-by-try" ]; then
  echo "try: $out is not empty and not mine; name a new folder" >&2
  exit 1
fi
mkdir -p "$out"
touch "$out/.made-by-try"
rm -rf "$out/DCIM" "$out"/catalog.sqlite*
cp -r "$here/sample-bursts/DCIM" "$out/DCIM"
"$here/build/burstsieve" cull --catalog "$out/catalog.sqlite" "$out/DCIM" | tee "$out/summary.txt"
echo
echo "Sidecars: $out/DCIM (NAME.EXT.xmp beside each photograph)"
echo "Summary:  $out/summary.txt"
echo "Why was a frame rejected?  $here/build/burstsieve explain --catalog $out/catalog.sqlite $out/DCIM/101SALTM/BSG_0014.JPG"
