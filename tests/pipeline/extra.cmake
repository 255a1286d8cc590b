target_link_libraries(test_pipeline PRIVATE nlohmann_json::nlohmann_json burstsieve_season_check)
# The command line is tested as a user meets it: as a process.
target_compile_definitions(test_pipeline PRIVATE BURSTSIEVE_PROGRAM="$<TARGET_FILE:burstsieve>"
  BURSTSIEVE_GENERATE="$<TARGET_FILE:burstsieve-generate>")
add_dependencies(test_pipeline burstsieve burstsieve-generate)
# Processes that the engine's tests start.
foreach(program sandbox_probe faulty_engine)
  add_executable(${program} "${CMAKE_CURRENT_LIST_DIR}/programs/${program}.cpp")
  target_link_libraries(${program} PRIVATE burstsieve_pipeline)
  add_dependencies(test_pipeline ${program})
endforeach()
target_compile_definitions(test_pipeline PRIVATE SANDBOX_PROBE="$<TARGET_FILE:sandbox_probe>"
  FAULTY_ENGINE="$<TARGET_FILE:faulty_engine>")
# Runs that are killed at every step (crash_test.cpp), over frames rendered in the test (small_set.h).
add_executable(crash-program pipeline/crash_program/main.cpp)
target_include_directories(crash-program PRIVATE "${CMAKE_CURRENT_SOURCE_DIR}")
target_link_libraries(crash-program PRIVATE burstsieve_pipeline)
target_link_libraries(test_pipeline PRIVATE burstsieve_generate burstsieve_mutate)
target_compile_definitions(test_pipeline PRIVATE BURSTSIEVE_CRASH_PROGRAM="$<TARGET_FILE:crash-program>")
add_dependencies(test_pipeline crash-program)
# Each has helpers of its own under the same names.
set_target_properties(test_pipeline PROPERTIES UNITY_BUILD OFF)
