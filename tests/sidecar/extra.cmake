# exempi, the second XMP reader: what we write must mean the same to a library we do not use.
pkg_check_modules(EXEMPI REQUIRED IMPORTED_TARGET exempi-2.0)
target_link_libraries(test_sidecar PRIVATE PkgConfig::EXEMPI nlohmann_json::nlohmann_json)
