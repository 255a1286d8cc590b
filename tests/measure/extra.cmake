# Depth scenes and noise of known strength are rendered by the generator's library.
target_link_libraries(test_measure PRIVATE burstsieve_generate PkgConfig::RAW)
