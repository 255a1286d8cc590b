# Bursts of known truth; the detector is compared with stored outputs of the original, on real photographs.
target_link_libraries(test_subject PRIVATE burstsieve_generate nlohmann_json::nlohmann_json opencv_imgcodecs)
