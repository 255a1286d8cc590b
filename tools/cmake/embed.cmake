# burstsieve_embed(<module> <folder>): the files of src/<module>/<folder>/ as bytes in the module's library, behind
# `std::span<const Asset> burstsieve::<module>::assets()` (src/<module>/assets.h). Made at build time, so that a
# changed file is built in without configuring again.
function(burstsieve_embed module folder)
  file(GLOB files CONFIGURE_DEPENDS "${CMAKE_SOURCE_DIR}/src/${module}/${folder}/*")
  list(SORT files)
  set(out "${CMAKE_CURRENT_BINARY_DIR}/embed/${module}_${folder}.cpp")
  string(REPLACE ";" "|" joined "${files}")
  set(script "${CMAKE_SOURCE_DIR}/tools/cmake/embed_files.cmake")
  add_custom_command(OUTPUT "${out}"
    COMMAND ${CMAKE_COMMAND} "-DFILES=${joined}" "-DOUT=${out}" -DMODULE=${module} -P "${script}"
    DEPENDS ${files} "${script}" VERBATIM COMMENT "Building ${module}/${folder} in")
  set_source_files_properties("${out}" PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  target_sources(burstsieve_${module} PRIVATE "${out}")
  target_include_directories(burstsieve_${module} PRIVATE "${CMAKE_SOURCE_DIR}/src/${module}")
endfunction()
