# Bursts of known truth; the detector is compared with stored outputs of the original, on real photographs; heads are
# counted by the code that fitted their weights, on seeds and birds that it never saw.
target_link_libraries(test_subject PRIVATE burstsieve_heads burstsieve_generate nlohmann_json::nlohmann_json
  opencv_imgcodecs)
