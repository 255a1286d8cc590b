# Our reading of real camera files against exiftool's; skipped when tools/test-data.sh has not fetched them.
if(TARGET metadata-check)
  add_test(NAME camera_against_exiftool COMMAND metadata-check --floors "${CMAKE_SOURCE_DIR}/tests/camera/exiftool-agreement.txt")
  set_tests_properties(camera_against_exiftool PROPERTIES SKIP_REGULAR_EXPRESSION "SKIP:" TIMEOUT 300)
endif()
