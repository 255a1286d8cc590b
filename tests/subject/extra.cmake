# Bursts of known truth.
target_link_libraries(test_subject PRIVATE burstsieve_generate)
