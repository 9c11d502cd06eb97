# One place for language level, warnings, sanitizers and compiler caching.
set(CMAKE_CXX_STANDARD 20)
set(CMAKE_CXX_STANDARD_REQUIRED ON)
set(CMAKE_CXX_EXTENSIONS OFF)
set(CMAKE_EXPORT_COMPILE_COMMANDS ON)

if(NOT CMAKE_BUILD_TYPE)
  set(CMAKE_BUILD_TYPE RelWithDebInfo)
endif()
# Optimised with invariant checks on (CF_CHECK is always on); -g1 keeps links short on two cores.
# With sanitizers -O1, and -O0 where nothing is computed (CUTFACE_IDLE: tests, the window's room): to
# optimise what is instrumented takes longer than to run it.
set(CUTFACE_SANITIZE "" CACHE STRING "Sanitizers, for example address,undefined")
if(CUTFACE_SANITIZE)
  set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g1")
  set(CUTFACE_IDLE -O0)
else()
  set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O2 -g1")
  set(CUTFACE_IDLE)
endif()
set(CMAKE_CXX_FLAGS_RELEASE "-O2")

option(CUTFACE_WERROR "Warnings are errors" OFF)
set(CUTFACE_COVERAGE "" CACHE STRING "Rooms whose executed lines are counted (gcc; tests/coverage)")

find_program(CCACHE_PROGRAM ccache)
if(CCACHE_PROGRAM AND NOT CMAKE_CXX_COMPILER_LAUNCHER)
  set(CMAKE_CXX_COMPILER_LAUNCHER ${CCACHE_PROGRAM})
endif()
find_program(MOLD_PROGRAM mold)
if(MOLD_PROGRAM)
  add_link_options(-fuse-ld=mold)
endif()

# Same image, same digits: no fused multiply-add that one machine has and another lacks.
add_compile_options(-ffp-contract=off)

add_library(cutface_warnings INTERFACE)
target_compile_options(cutface_warnings INTERFACE -Wall -Wextra -Wpedantic -Wshadow -Wconversion
                       -Wno-sign-conversion $<$<BOOL:${CUTFACE_WERROR}>:-Werror>)

if(CUTFACE_SANITIZE)
  add_compile_options(-fsanitize=${CUTFACE_SANITIZE} -fno-omit-frame-pointer -fno-sanitize-recover=all)
  add_link_options(-fsanitize=${CUTFACE_SANITIZE})
  if(CUTFACE_SANITIZE MATCHES undefined)
    add_compile_options(-fno-sanitize=vptr)  # SOCI's library keeps the type information it asks for to itself
  endif()
endif()
