# cmake --install, and a Debian package by CPack:
#   cmake --preset release && cmake --build --preset release && cpack --config build/release/CPackConfig.cmake
set(CMAKE_SKIP_INSTALL_ALL_DEPENDENCY ON)  # what is installed is built by then; tests need not be
include(GNUInstallDirs)
install(TARGETS cutface RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
if(TARGET cutface-gui)
  install(TARGETS cutface-gui RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
  install(FILES ${CMAKE_SOURCE_DIR}/gui/desktop/cutface.desktop
          DESTINATION ${CMAKE_INSTALL_DATADIR}/applications)
  install(FILES ${CMAKE_SOURCE_DIR}/gui/desktop/cutface.svg
          DESTINATION ${CMAKE_INSTALL_DATADIR}/icons/hicolor/scalable/apps)
endif()
install(FILES ${CMAKE_SOURCE_DIR}/README.md ${CMAKE_SOURCE_DIR}/LICENSE
        DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES ${CMAKE_SOURCE_DIR}/src/data/hints.json DESTINATION ${CMAKE_INSTALL_DATADIR}/cutface)

# The manual page comes from the program's own declarations.
add_custom_command(OUTPUT ${CMAKE_BINARY_DIR}/cutface.1
  COMMAND cutface --man > ${CMAKE_BINARY_DIR}/cutface.1 DEPENDS cutface VERBATIM)
add_custom_target(manual ALL DEPENDS ${CMAKE_BINARY_DIR}/cutface.1)
install(FILES ${CMAKE_BINARY_DIR}/cutface.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME cutface)
set(CPACK_PACKAGE_VENDOR "cutface developers")
set(CPACK_PACKAGE_CONTACT "cutface developers <cutface@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "measures the cut face of a catheter")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
    "Finds lumens, septa, wires, liners, voids and bonds in a calibrated picture of a\n sectioned catheter, measures them with an interval and judges them against the drawing.")
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
# What dpkg-shlibdeps cannot see: fonts of pictures, reports and window; OpenGL and PostgreSQL are loaded on demand.
set(CPACK_DEBIAN_PACKAGE_DEPENDS "fonts-lato, libgl1")
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "libsoci-postgresql4.0")
include(CPack)
