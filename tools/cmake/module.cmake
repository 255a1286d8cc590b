# burstsieve_module(<name> LINK <libraries...>)
# One static library per module, from src/<name>/*.cpp, linked to every module before it in the order.
# Third-party headers count as system headers: -Werror is for our own code.
set(BURSTSIEVE_MODULES "" CACHE INTERNAL "modules declared so far, in order")

add_library(burstsieve_opencv INTERFACE)
target_include_directories(burstsieve_opencv SYSTEM INTERFACE ${OpenCV_INCLUDE_DIRS})
target_link_libraries(burstsieve_opencv INTERFACE opencv_core opencv_imgproc)

function(burstsieve_module name)
  cmake_parse_arguments(ARG "" "" "LINK" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS "${CMAKE_SOURCE_DIR}/src/${name}/*.cpp")
  set(before ${BURSTSIEVE_MODULES})
  list(TRANSFORM before PREPEND burstsieve_)
  list(REVERSE before) # a static library must precede what it uses on the link line
  if(NOT sources)
    file(WRITE "${CMAKE_BINARY_DIR}/empty/${name}.cpp" "// header-only module\n")
    set(sources "${CMAKE_BINARY_DIR}/empty/${name}.cpp")
  endif()
  add_library(burstsieve_${name} STATIC ${sources})
  target_include_directories(burstsieve_${name} PUBLIC "${CMAKE_SOURCE_DIR}/include")
  target_link_libraries(burstsieve_${name} PUBLIC ${before} ${ARG_LINK} Threads::Threads)
  set(BURSTSIEVE_MODULES ${BURSTSIEVE_MODULES} ${name} CACHE INTERNAL "")
endfunction()
