# Sourced by the scripts beside it: the checkout, its virtual environment, and how both come to be.
# LEADLINE_VENV=DIR uses that environment as it is; without it, .venv of the checkout is made and kept up.
# PYTHON=PROGRAM chooses the Python from which .venv is made.

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
venv="${LEADLINE_VENV:-$root/.venv}"
python="$venv/bin/python"
# What another installation of Python, PROJ, GDAL or Leadline left behind must not reach in here.
unset PYTHONPATH PYTHONHOME PROJ_DATA PROJ_LIB GDAL_DATA LEADLINE_REGISTRY
export PYTHONNOUSERSITE=1 PIP_DISABLE_PIP_VERSION_CHECK=1

stop() { # what, remedy
  printf 'Error: %s\nRemedy: %s\n' "$1" "$2" >&2
  exit 2
}

# Run a command quietly; show that it goes on where a person looks, and all that it said where it fails.
quietly() { # title, command...
  local title="$1" log status=0 from=$SECONDS
  shift
  log="$(mktemp)"
  "$@" >"$log" 2>&1 &
  local job=$!
  while [[ -t 2 ]] && kill -0 "$job" 2>/dev/null; do
    sleep 0.2
    if ((SECONDS - from > 1)); then printf '\r%s … %d s ' "$title" "$((SECONDS - from))" >&2; fi
  done
  wait "$job" || status=$?
  if [[ -t 2 ]]; then printf '\r\033[K' >&2; fi
  if ((status)); then tail -n 40 "$log" >&2; fi
  rm -f "$log"
  return "$status"
}

new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }
# Every library offers ready-made wheels for these; a newer Python is taken where there is no other.
well_served() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' 2>/dev/null; }

find_python() {
  local candidate fits
  for fits in well_served new_enough; do
    for candidate in ${PYTHON:+"$PYTHON"} python3 python3.13 python3.12 python3.11 python; do
      if command -v "$candidate" >/dev/null && "$fits" "$candidate"; then
        command -v "$candidate"
        return
      fi
    done
  done
  local found
  found="$(python3 --version 2>/dev/null || echo 'no python3')"
  stop "Leadline needs Python 3.11 or newer; this machine has $found." \
    "Install Python 3.11 or newer, or name one with PYTHON=/path/to/python3.12."
}

# What the environment was made from; anything else in it now means making it up to date.
fingerprint() { # extras
  { cat "$root/pyproject.toml"; printf '%s\n%s\n' "$root" "$1"; "$python" -c 'import sys; print(sys.version)'; } \
    | cksum
}

up_to_date() { # extras
  local stamp="$venv/leadline-installed$1"
  [[ -x $python && -f $stamp && "$(cat "$stamp")" == "$(fingerprint "$1")" ]]
}

prepare_environment() { # "" or "[dev]"
  local extras="$1"
  if [[ -n ${LEADLINE_VENV:-} ]]; then
    [[ -x $python ]] || stop "There is no Python in $venv." "Unset LEADLINE_VENV, or name a virtual environment."
    return
  fi
  # An environment for the tests holds all that the demonstration needs.
  if up_to_date "$extras" || up_to_date "[dev]"; then return; fi
  if [[ ! -x $python ]] || ! new_enough "$python"; then
    local base
    base="$(find_python)"
    [[ ! -e $venv || -f $venv/pyvenv.cfg ]] || stop "$venv is there, but it is no virtual environment." "Move it away."
    echo "Making the virtual environment .venv with $("$base" --version)."
    if ! quietly "Making .venv" "$base" -m venv --clear "$venv"; then
      rm -rf "$venv"
      stop "$base cannot make a virtual environment." \
        "Install its venv module (Debian and Ubuntu: apt install python3-venv) and try again."
    fi
  fi
  echo "Installing Leadline and its libraries into .venv (once; a minute or two)."
  if ! quietly "Installing" "$python" -m pip install --quiet --editable "$root$extras"; then
    stop "The libraries could not be installed; pip says why above." \
      "Check the network, that 1 GB of disk is free, and that $("$python" --version) is one of 3.11 to 3.13."
  fi
  fingerprint "$extras" >"$venv/leadline-installed$extras"
}
