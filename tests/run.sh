#!/usr/bin/env bash
# Lint, types, architecture and tests, on a fresh Debian or Ubuntu machine with Python 3.11 to 3.13.
# Brings what is missing (an environment of its own in .venv-test, system libraries by apt where it may).
# Arguments go to pytest: bash tests/run.sh tests/files -x
set -euo pipefail
cd "$(dirname "$0")/.."
exec </dev/null
export DEBIAN_FRONTEND=noninteractive PIP_NO_INPUT=1 PIP_DISABLE_PIP_VERSION_CHECK=1 PYTHONUNBUFFERED=1

say() { printf '\n== %s\n' "$*"; }
die() { printf 'tests/run.sh: %s\n' "$*" >&2; exit 1; }

# --- system libraries: what Qt, the 3D view and the outside references need, and a screen ---------------
packages=(xvfb libgl1 libgl1-mesa-dri libegl1 libopengl0 libglib2.0-0 libxkbcommon0 libxkbcommon-x11-0
  libx11-xcb1 libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0
  libxcb-render-util0 libxcb-shape0 libxcb-sync1 libxcb-xfixes0 libxcb-xinerama0 libxcb-xkb1
  libdbus-1-3 libfontconfig1 libgomp1 fonts-dejavu-core)

installed() { # newer systems call some of them NAMEt64
  local states
  states=$(dpkg-query -W -f='${db:Status-Status};' "$1" "$1t64" 2>/dev/null) || true # fails for the absent one
  [[ ";$states" == *";installed;"* ]]
}

as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

apt_install() {
  as_root true 2>/dev/null || return 1
  as_root apt-get install -y -qq --no-install-recommends "$@" >/dev/null 2>&1 && return 0
  as_root apt-get update -qq && as_root apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

if command -v dpkg-query >/dev/null; then
  missing=()
  for package in "${packages[@]}"; do installed "$package" || missing+=("$package"); done
  if [ ${#missing[@]} -gt 0 ]; then
    say "System libraries: ${missing[*]}"
    apt_install "${missing[@]}" ||
      printf 'Could not install them; if the tests fail, run: sudo apt-get install %s\n' "${missing[*]}" >&2
  fi
fi

# --- Python ------------------------------------------------------------------------------------------------
fits() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' 2>/dev/null; }
python=
for candidate in python3.11 python3 python3.12 python3.13; do
  if command -v "$candidate" >/dev/null && fits "$candidate"; then python=$candidate && break; fi
done
[ -n "$python" ] || die "needs Python 3.11, 3.12 or 3.13; install python3.11 and python3.11-venv."

venv=.venv-test
version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
stamp="$version $PWD $(sha256sum pyproject.toml | cut -d' ' -f1)"
if [ "$(cat "$venv/stamp" 2>/dev/null)" != "$stamp" ] || ! "$venv/bin/python" -c '' 2>/dev/null; then
  say "Python $version: installing into $venv"
  "$python" -c 'import ensurepip' 2>/dev/null || apt_install "python$version-venv" || die "needs python$version-venv."
  "$python" -m venv --clear "$venv"
  "$venv/bin/pip" install --quiet --editable '.[test]'
  echo "$stamp" >"$venv/stamp"
fi
export PATH="$PWD/$venv/bin:$PATH"

# --- lint, types, architecture: one that fails does not hide the next ------------------------------------------
failed=()
check() {
  say "$1"
  "${@:2}" || failed+=("$1")
}
check "Lint" ruff check housingdesk tests sample_projects
check "Format" ruff format --check housingdesk tests sample_projects
check "Types" mypy
check "Architecture" lint-imports

# --- tests, on a screen of their own -------------------------------------------------------------------------
if command -v Xvfb >/dev/null; then
  scratch=$(mktemp -d)
  Xvfb -displayfd 3 -screen 0 1920x1080x24 -nolisten tcp 3>"$scratch/display" >"$scratch/log" 2>&1 &
  screen=$!
  trap 'kill "$screen" 2>/dev/null || true; wait "$screen" 2>/dev/null || true; rm -rf "$scratch"' EXIT
  for _ in $(seq 100); do
    [ -s "$scratch/display" ] && break
    kill -0 "$screen" 2>/dev/null || die "Xvfb did not start: $(tail -n 3 "$scratch/log")"
    sleep 0.1
  done
  [ -s "$scratch/display" ] || die "Xvfb did not say which display it took within 10 s."
  DISPLAY=":$(cat "$scratch/display")"
  export DISPLAY
elif [ -z "${DISPLAY:-}" ]; then
  die "needs a screen for the window tests; install xvfb."
fi
unset WAYLAND_DISPLAY
export QT_QPA_PLATFORM=xcb LIBGL_ALWAYS_SOFTWARE=1

check "Tests" python -m pytest "$@"
[ ${#failed[@]} -eq 0 ] || die "failed: ${failed[*]}"
