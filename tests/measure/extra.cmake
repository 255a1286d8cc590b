# zlib: the disparity of the stereo pair is a compressed .npz.
find_package(ZLIB REQUIRED)
# The slanted edge that calibrates the blur measures; real photographs that are PNG; depth scenes and noise of known
# strength, rendered by the generator's library.
target_link_libraries(test_measure PRIVATE burstsieve_sfr burstsieve_generate burstsieve_rank opencv_imgcodecs
  PkgConfig::RAW ZLIB::ZLIB)
# Each has scenes and counts of its own under the same names.
set_target_properties(test_measure PROPERTIES UNITY_BUILD OFF)
# Parts that only the module itself includes.
target_include_directories(test_measure PRIVATE "${CMAKE_SOURCE_DIR}/src/measure")
