# burstsieve_registry(<module> <folder> <type> <accessor> <header>)
# Every .cpp in src/<module>/<folder>/ defines one `extern const <type> <file stem>` in namespace
# burstsieve::<module>::<folder>; this writes the sorted table of them behind
# `std::span<const <type>* const> burstsieve::<module>::<accessor>()`. Adding one is adding one file.
# (Self-registering statics would be dropped by the linker from a static library.)
function(burstsieve_registry module folder type accessor header)
  file(GLOB files CONFIGURE_DEPENDS "${CMAKE_SOURCE_DIR}/src/${module}/${folder}/*.cpp")
  list(SORT files)
  set(decls "")
  set(items "")
  foreach(f IN LISTS files)
    get_filename_component(stem "${f}" NAME_WE)
    string(APPEND decls "extern const ${type} ${stem};\n")
    string(APPEND items "    &${folder}::${stem},\n")
  endforeach()
  list(LENGTH files count)
  set(out "${CMAKE_CURRENT_BINARY_DIR}/registry/${module}_${accessor}.cpp")
  file(CONFIGURE OUTPUT "${out}" @ONLY CONTENT [[
#include <array>
#include <span>
#include "@header@"
namespace burstsieve::@module@::@folder@ {
@decls@}
namespace burstsieve::@module@ {
std::span<const @type@* const> @accessor@() {
  static constexpr std::array<const @type@*, @count@> table{
@items@  };
  return table;
}
}
]])
  # Entries have the same names inside by design.
  set_source_files_properties(${files} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  target_sources(burstsieve_${module} PRIVATE ${files} "${out}")
endfunction()
