#!/bin/sh
# Sets up what `make` needs: a virtual environment in .venv with the pinned packages of
# one lock file, and the native libraries WeasyPrint draws with. Called by the Makefile:
#     sh .setup/setup.sh runtime|dev
# POSIX sh, because macOS and Debian agree on nothing newer.
set -eu

which_lock=$1
here=$(cd "$(dirname "$0")/.." && pwd)
cd "$here"
venv_python=.venv/bin/python
started=$(date +%s)
log=$(mktemp "${TMPDIR:-/tmp}/squadsides-setup.XXXXXX")
trap 'rm -f "$log"' EXIT

# A Python set up for something else must not leak into the environment made here.
unset PYTHONHOME PYTHONPATH PIP_USER PIP_TARGET PIP_PREFIX PIP_REQUIRE_VIRTUALENV 2>/dev/null || true

# WeasyPrint 70 still runs without the subset library, but writes each PDF four times slower.
libraries="libpango-1.0.so.0:libpango-1.0-0 libpangoft2-1.0.so.0:libpangoft2-1.0-0 \
libharfbuzz-subset.so.0:libharfbuzz-subset0"

# What apt-get and pip say where the network is missing.
no_network="temporary failure|could not resolve|name resolution|network is unreachable|\
could not connect|connection (timed out|refused|failed)|unable to connect"

say() { printf '%s\n' "$*"; }

stop() {
    printf '\n%s\n' "$*" >&2
    exit 1
}

stop_with_log() {
    tail -n 15 "$log" >&2
    stop "$@"
}

have() { command -v "$1" >/dev/null 2>&1; }

is_new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11, 2))' >/dev/null 2>&1
}

find_python() {
    for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
        if have "$name" && is_new_enough "$name"; then
            command -v "$name"
            return
        fi
    done
}

# What a person has to put before a command that changes the system.
as_admin() {
    if [ "$(id -u)" -eq 0 ]; then return; fi
    if have sudo; then printf 'sudo '; fi
}

command_to_type() {
    if [ "$(id -u)" -ne 0 ] && ! have sudo; then
        printf "su -c 'apt-get update && apt-get install -y %s'" "$*"
    else
        admin=$(as_admin)
        printf '%sapt-get update && %sapt-get install -y %s' "$admin" "$admin" "$*"
    fi
}

explain_missing_python() {
    how="install it, then type make again"
    if have apt-get; then how="on Debian 12 or Ubuntu 24.04 and later type: \
$(command_to_type python3 python3-venv)"; fi
    if have brew; then how="type: brew install python"; fi
    name=${PYTHON:-python3}
    found="there is no $name here"
    if have "$name"; then
        found="$name is $("$name" -c 'import platform; print(platform.python_version())' || true)"
    fi
    stop "squadsides needs Python 3.11.2 or newer, and $found; $how"
}

# The name of Debian's package that adds venv to the Python found.
venv_package() {
    if [ "$(readlink -f "$python")" = "$(readlink -f /usr/bin/python3)" ]; then
        say python3-venv
    else
        say "$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')"
    fi
}

comes_without_venv() {
    ! "$python" -c 'import ensurepip, venv' >/dev/null 2>&1
}

missing_packages() {
    if comes_without_venv; then venv_package; fi
    for pair in $libraries; do
        if ! "$python" -c "import ctypes; ctypes.CDLL('${pair%%:*}')" >/dev/null 2>&1; then
            say "${pair##*:}"
        fi
    done
    # The tests build a small library that makes one write of a build fail.
    if [ "$which_lock" = dev ] && ! have cc; then printf 'gcc\nlibc6-dev\n'; fi
}

may_install() {
    [ "$(id -u)" -eq 0 ] || { have sudo && sudo -n true >/dev/null 2>&1 </dev/null; }
}

# Lists of packages may be missing on a new machine, or out of date: only then fetch them.
# A foreign source that does not answer must not stop Debian's own from being used.
apt_install() {
    admin=""
    if [ "$(id -u)" -ne 0 ]; then admin="sudo -n"; fi
    apt="env LC_ALL=C DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=120"
    install="$apt install -y -q --no-install-recommends"
    # shellcheck disable=SC2086  # options and packages, one word each
    $admin $install "$@" && return
    # shellcheck disable=SC2086
    $admin $apt update -q || true
    # shellcheck disable=SC2086
    $admin $install "$@"
}

install_system_packages() {
    case $(readlink -f "$python") in
    /usr/bin/*) ;;
    *) if comes_without_venv; then
        stop "The Python at $python comes without venv; name another one: make PYTHON=/usr/bin/python3"
    fi ;;
    esac
    packages=$(missing_packages | tr '\n' ' ')
    packages=${packages% }
    if [ -z "$packages" ]; then return; fi
    if ! may_install; then
        stop "These packages are missing, and only an administrator may install them. \
Type this, then make again:

    $(command_to_type "$packages")"
    fi
    say "  installing with apt-get: $packages"
    # shellcheck disable=SC2086  # one word each
    if ! apt_install $packages >"$log" 2>&1 </dev/null; then
        if grep -qiE "$no_network" "$log"; then
            stop_with_log "There is no connection to the internet, from where these packages come: \
$packages. Connect this machine, then type make again."
        fi
        stop_with_log "The packages could not be installed; the lines above say why. \
Type this, then make again:

    $(command_to_type "$packages")"
    fi
}

make_venv() {
    if is_new_enough "$venv_python" && "$venv_python" -m pip --version >/dev/null 2>&1; then return; fi
    say "  making the virtual environment .venv"
    rm -rf .venv
    if ! "$python" -m venv .venv >"$log" 2>&1; then
        rm -rf .venv
        stop_with_log "The virtual environment could not be made; the lines above say why."
    fi
}

install_packages() {
    lock=.setup/$which_lock.lock
    say "  installing the pinned packages of $lock (about a minute)"
    if ! PIP_ROOT_USER_ACTION=ignore "$venv_python" -m pip install --require-hashes -r "$lock" \
        --quiet --no-input --disable-pip-version-check --progress-bar off >"$log" 2>&1 </dev/null; then
        if grep -qiE "$no_network" "$log"; then
            stop_with_log "There is no connection to the internet, from where the packages of $lock come. \
Connect this machine, then type make again."
        fi
        stop_with_log "The packages could not be installed; the lines above say why."
    fi
}

weasyprint_draws() {
    "$venv_python" -W ignore -c '
import sys, weasyprint
from weasyprint.text import ffi
sys.exit("the subset library of HarfBuzz is missing" if ffi.harfbuzz_subset is None else 0)
' >"$log" 2>&1
}

prove_libraries() {
    if [ "$(uname -s)" = Darwin ] && have brew; then
        DYLD_FALLBACK_LIBRARY_PATH=$(brew --prefix 2>/dev/null || say /opt/homebrew)/lib:/usr/local/lib:/usr/lib
        export DYLD_FALLBACK_LIBRARY_PATH
        if weasyprint_draws; then return; fi
        say "  installing with Homebrew: pango harfbuzz"
        brew install --quiet pango harfbuzz >"$log" 2>&1 </dev/null || true
    fi
    if weasyprint_draws; then return; fi
    how="install Pango and HarfBuzz with its subset library, then type make again"
    if have apt-get; then how="type this, then make again:

    $(command_to_type libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0)"; fi
    if [ "$(uname -s)" = Darwin ]; then how="type this, then make again:

    brew install pango harfbuzz"; fi
    stop_with_log "The libraries that draw the PDFs cannot be loaded; $how"
}

# Else the first build does it, half a second later.
prepare_typefaces() {
    if ! "$venv_python" -c 'from pipeline.report.pdf.typeface import folder; folder()' >"$log" 2>&1; then
        stop_with_log "The typefaces of the reports could not be made ready; the lines above say why."
    fi
}

say "Setting up squadsides (once)"
if [ ! -w . ]; then
    stop "The folder $here may only be read, and what squadsides needs is installed into it. \
Copy it to a place of your own and type make there, or have its owner type make once."
fi
python=$(find_python)
if [ -z "$python" ]; then explain_missing_python; fi
say "  Python $("$python" -c 'import platform; print(platform.python_version())')"
if have apt-get; then install_system_packages; fi
make_venv
install_packages
prove_libraries
prepare_typefaces
touch .venv/.runtime-ready
# The development lock holds the runtime pins as well, so it makes both ready.
if [ "$which_lock" = dev ]; then touch .venv/.dev-ready; fi
say "  ready after $(($(date +%s) - started)) s"
