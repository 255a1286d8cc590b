target_link_libraries(test_watch PRIVATE burstsieve_generate nlohmann_json::nlohmann_json)
# watch and nightly are tested as a user meets them, too: as processes.
target_compile_definitions(test_watch PRIVATE BURSTSIEVE_PROGRAM="$<TARGET_FILE:burstsieve>")
add_dependencies(test_watch burstsieve)
