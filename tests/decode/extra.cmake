# Reads the PNG of a real sensor; the product does not link it.
target_link_libraries(test_decode PRIVATE opencv_imgcodecs)
