# cmake -DFILES=a|b -DOUT=x.cpp -DMODULE=m -P embed_files.cmake; see embed.cmake.
string(REPLACE "|" ";" FILES "${FILES}")
set(arrays "")
set(rows "")
set(n 0)
foreach(f IN LISTS FILES)
  get_filename_component(name "${f}" NAME)
  file(READ "${f}" hex HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "(0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,0x..,)" "\\1\n" bytes "${bytes}")
  string(APPEND arrays "constexpr unsigned char kFile${n}[] = {${bytes}0};\n")
  string(APPEND rows "    {\"${name}\", {reinterpret_cast<const char*>(kFile${n}), sizeof kFile${n} - 1}},\n")
  math(EXPR n "${n} + 1")
endforeach()
file(WRITE "${OUT}" "// Made by tools/cmake/embed_files.cmake.
#include \"assets.h\"

#include <vector>

namespace burstsieve::${MODULE} {
namespace {
${arrays}
}  // namespace
std::span<const Asset> assets() {
  static const std::vector<Asset> all{
${rows}  };
  return all;
}
}  // namespace burstsieve::${MODULE}
")
