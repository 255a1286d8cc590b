target_link_libraries(test_serve PRIVATE nlohmann_json::nlohmann_json)
# The server is tested as a browser, and an attacker, meet it: as a process.
target_compile_definitions(test_serve PRIVATE BURSTSIEVE_PROGRAM="$<TARGET_FILE:burstsieve>")
add_dependencies(test_serve burstsieve)
