# The detector is compared with stored outputs of the original, on real photographs.
target_link_libraries(test_subject PRIVATE nlohmann_json::nlohmann_json opencv_imgcodecs)
