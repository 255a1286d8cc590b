# An independent DCT hash to compare ours with.
find_package(OpenCV 4.6 REQUIRED COMPONENTS img_hash imgcodecs)
target_link_libraries(test_group PRIVATE opencv_img_hash opencv_imgcodecs)
