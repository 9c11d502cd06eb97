# Everything comes from Debian 12; the list of packages stands in .ci/packages.txt.
find_package(PkgConfig REQUIRED)
find_package(Threads REQUIRED)
find_package(Boost 1.74 REQUIRED)
find_package(fmt REQUIRED)
find_package(pugixml REQUIRED)
find_package(OpenSSL REQUIRED)
find_package(TIFF REQUIRED)
find_package(JPEG REQUIRED)
find_package(Eigen3 3.4 REQUIRED NO_MODULE)
pkg_check_modules(spng REQUIRED IMPORTED_TARGET spng)
pkg_check_modules(exif REQUIRED IMPORTED_TARGET libexif)
pkg_check_modules(cairo REQUIRED IMPORTED_TARGET cairo)
pkg_check_modules(pangocairo REQUIRED IMPORTED_TARGET pangocairo)
pkg_check_modules(sodium REQUIRED IMPORTED_TARGET libsodium)
pkg_check_modules(zip REQUIRED IMPORTED_TARGET libzip)
pkg_check_modules(polyclipping REQUIRED IMPORTED_TARGET polyclipping)

# OpenCV core and imgproc only. Debian keeps OpenCVConfig.cmake in the package that pulls in all
# modules (and through imgcodecs GPL libraries), so the two libraries are imported by hand here, with
# their headers as system headers.
find_path(CUTFACE_OPENCV_INCLUDE opencv2/core.hpp PATH_SUFFIXES opencv4 REQUIRED)
foreach(module core imgproc)
  find_library(CUTFACE_OPENCV_${module} opencv_${module} REQUIRED)
  add_library(opencv_${module} UNKNOWN IMPORTED)
  set_target_properties(opencv_${module} PROPERTIES
    IMPORTED_LOCATION ${CUTFACE_OPENCV_${module}}
    INTERFACE_INCLUDE_DIRECTORIES ${CUTFACE_OPENCV_INCLUDE}
    INTERFACE_SYSTEM_INCLUDE_DIRECTORIES ${CUTFACE_OPENCV_INCLUDE})
endforeach()
set_property(TARGET opencv_imgproc APPEND PROPERTY INTERFACE_LINK_LIBRARIES opencv_core)
