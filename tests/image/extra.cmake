# An independent table of colour temperatures (Robertson 1968) to compare ours with.
pkg_check_modules(LCMS2 REQUIRED IMPORTED_TARGET lcms2)
target_link_libraries(test_image PRIVATE PkgConfig::LCMS2)
