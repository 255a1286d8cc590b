target_link_libraries(test_pipeline PRIVATE nlohmann_json::nlohmann_json)
# The command line is tested as a user meets it: as a process.
target_compile_definitions(test_pipeline PRIVATE BURSTSIEVE_PROGRAM="$<TARGET_FILE:burstsieve>"
  BURSTSIEVE_GENERATE="$<TARGET_FILE:burstsieve-generate>")
add_dependencies(test_pipeline burstsieve burstsieve-generate)
