# Presets compile several files of a room at once (unity builds: a third of the time). File-local
# names must then differ within a room; APART is for rooms that repeat them on purpose.

# cutface_room(NAME [APART] NEEDS room... LIBS target...)
#   A room: all *.cpp of its folder in one static library cutface_NAME, linking only rooms of lower
#   floors (tests/house/floors.py rejects an include that goes up).
function(cutface_room name)
  cmake_parse_arguments(ROOM "APART" "" "NEEDS;LIBS" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/*.cpp)
  add_library(cutface_${name} STATIC ${sources})
  target_include_directories(cutface_${name} PUBLIC ${CMAKE_SOURCE_DIR}/include
                             PRIVATE ${CMAKE_SOURCE_DIR}/src ${CMAKE_SOURCE_DIR})
  target_compile_features(cutface_${name} PUBLIC cxx_std_20)
  foreach(need ${ROOM_NEEDS})
    target_link_libraries(cutface_${name} PUBLIC cutface_${need})
  endforeach()
  target_link_libraries(cutface_${name} PRIVATE ${ROOM_LIBS} cutface_warnings)
  if(ROOM_APART)
    set_target_properties(cutface_${name} PROPERTIES UNITY_BUILD OFF)
  endif()
  if(name IN_LIST CUTFACE_COVERAGE)  # less optimised, so that lines stay apart
    target_compile_options(cutface_${name} PRIVATE --coverage -O1)
    target_link_options(cutface_${name} INTERFACE --coverage)
  endif()
endfunction()

# cutface_test(ROOM [APART] NEEDS room... LIBS target...)
#   One test program per folder tests/ROOM, found and run test by test.
function(cutface_test room)
  cmake_parse_arguments(TEST "APART" "" "NEEDS;LIBS" ${ARGN})
  if(NOT TARGET cutface_${room})
    return()
  endif()
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/${room}/*.cpp)
  if(NOT sources)
    return()
  endif()
  add_executable(test_${room} ${sources})
  target_include_directories(test_${room} PRIVATE ${CMAKE_SOURCE_DIR}/src ${CMAKE_SOURCE_DIR}
                             ${CMAKE_SOURCE_DIR}/tests)
  target_compile_definitions(test_${room} PRIVATE
    CUTFACE_SOURCE_DIR="${CMAKE_SOURCE_DIR}" CUTFACE_BINARY_DIR="${CMAKE_BINARY_DIR}")
  foreach(need ${room} ${TEST_NEEDS})
    target_link_libraries(test_${room} PRIVATE cutface_${need})
  endforeach()
  target_link_libraries(test_${room} PRIVATE ${TEST_LIBS} GTest::gtest GTest::gmock GTest::gtest_main
                        cutface_warnings)
  target_compile_options(test_${room} PRIVATE ${CUTFACE_IDLE})
  if(TEST_APART)
    set_target_properties(test_${room} PROPERTIES UNITY_BUILD OFF)
  endif()
  gtest_discover_tests(test_${room} DISCOVERY_MODE PRE_TEST DISCOVERY_TIMEOUT 60
                       PROPERTIES LABELS ${room})
endfunction()
