#!/bin/sh
# The system libraries that Qt (run) and the tests (test) need. Installs them where the user is root on a Debian-like Linux,
# else says exactly which to install. Silent when nothing is missing, and on other systems: the wheels bring all there.
set -eu
run="libgl1 libegl1 libfontconfig1 libxkbcommon0 libglib2.0-0 libdbus-1-3 fonts-dejavu-core
libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 libxcb-render-util0 libxcb-shape0 libxkbcommon-x11-0"
tests="xvfb xauth xdotool dbus"
case "${1:-run}" in test) wanted="$run $tests" ;; *) wanted="$run" ;; esac
command -v dpkg-query >/dev/null 2>&1 || exit 0
missing=""
for package in $wanted; do
  # Newer Debians carry the 64-bit-time names, such as libglib2.0-0t64.
  dpkg-query -W -f='${Status}\n' "$package" "${package}t64" 2>/dev/null | grep -q "ok installed" || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
if [ "$(id -u)" = 0 ]; then
  echo "Installing system libraries that the window needs:$missing"
  apt-get -qq update
  # shellcheck disable=SC2086
  DEBIAN_FRONTEND=noninteractive apt-get -qq install -y --no-install-recommends $missing >/dev/null
else
  echo "The window needs system libraries that are missing. Install them once with:" >&2
  echo "  sudo apt-get install$missing" >&2
  [ "${1:-run}" = test ] && exit 1 || exit 0
fi
