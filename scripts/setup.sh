# shellcheck shell=sh
# Sourced by scripts/try, test and others: makes .venv in the checkout and keeps it right.
#
#   REEDMILL_PYTHON=/path/to/python   which Python (3.11, 3.12 or 3.13) to build .venv with
#   REEDMILL_SYSTEM_PACKAGES=no       never call apt-get, dnf, apk, pacman or brew
#
# Everything Python goes into .venv; deleting that folder undoes it.  Every package is of the
# version in locks/ and is refused when its SHA-256 is not there.  A system package is
# only ever added as root or where sudo asks no password: libfluidsynth, and on Debian
# the venv module of Python.  The caller sets `root`, the checkout's absolute path.
# Messages go to standard error: standard output belongs to the command that runs next.

: "${root:?set root to the checkout before sourcing setup.sh}"
unset PYTHONHOME PYTHONPATH # either could put other modules in front of .venv's own

# use_environment FOLDER: the one that set_up makes; .venv unless a script says otherwise.
use_environment() {
    venv=$root/$1
    stamp=$venv/reedmill-setup # three lines: made from what, which extras, which Python
    log=$venv/setup.log
}
use_environment .venv

say() { printf '%s\n' "$*" >&2; }

stop() {
    say "$*"
    exit 1
}

# set_up EXTRA...: afterwards .venv has Reedmill with (at least) these extras.
set_up() {
    made_from=$(sources)
    read_stamp
    python=$have_python
    extras=$(union "$have_extras" "$*")
    if must_make; then
        find_python
        make_venv
    elif [ "$have_sources" = "$made_from" ] && [ "$have_extras" = "$extras" ]; then
        return 0
    else
        say "Bringing ${venv##*/} up to date (this time only, less than a minute)..."
    fi
    install_all
    [ "$extras" = tools ] || find_fluidsynth
}

# What .venv is made from: when this changes, pip has work to do; when the place does, .venv
# is of no use, because its programs carry its path.
sources() {
    sums=$(cat "$root/pyproject.toml" "$root"/locks/*.txt | cksum)
    printf '%s\n' "$sums $root"
}

read_stamp() {
    have_sources='' have_extras='' have_python=''
    if [ -f "$stamp" ]; then
        { IFS='' read -r have_sources && read -r have_extras && IFS='' read -r have_python; } <"$stamp" || :
    elif [ -e "$venv" ] || [ -L "$venv" ]; then
        stop "$venv was not made by this script, so it is left alone: rename or delete it, then run this again."
    fi
}

# Replaced in one step, so that a stamp is never half a stamp.
write_stamp() { # SOURCES
    printf '%s\n' "$1" "$extras" "$python" >"$stamp.new"
    mv -f "$stamp.new" "$stamp"
}

# The words of both lists, each once, in alphabetical order.
union() {
    for word in $1 $2; do
        printf '%s\n' "$word"
    done | sort -u | paste -s -d ' ' -
}

# No .venv, one that was cut short, one from another place, one whose Python is gone, or
# one made with another Python than the one asked for.
must_make() {
    case $have_sources in *" $root") ;; *) return 0 ;; esac
    [ -x "$venv/bin/python" ] || return 0
    [ -n "${REEDMILL_PYTHON-}" ] && [ "$(real_python "$REEDMILL_PYTHON")" != "$have_python" ]
}

make_venv() {
    say "Setting up ${venv##*/} (this time only, about a minute)..."
    # Renamed first and filled last: at no moment is there a .venv without a stamp.
    # New names, because a person may keep an environment of theirs as .venv-old.
    aside=$(mktemp -d "$venv-aside.XXXXXX")
    [ ! -d "$venv" ] || mv "$venv" "$aside/old"
    mkdir "$aside/new"
    printf 'unfinished\n' >"$aside/new/${stamp##*/}"
    mv "$aside/new" "$venv"
    rm -rf "$aside"
    "$python" -m venv "$venv" >"$log" 2>&1 || failed "Python could not make an environment."
}

# What builds comes first and as wheels alone; then nothing that pip builds fetches anything
# (--no-build-isolation), so that no file gets in that no lock knows.
install_all() {
    write_stamp unfinished
    : >"$log"
    case " $extras " in
    *" tools "*) builders=build lock=tools ;;
    *" test "*) builders=build-test lock=test ;; # has all that the others have
    *) builders=build lock=soundfont ;;
    esac
    install_locked "$builders" --only-binary :all:
    install_locked "$lock"
    # Our own files have no hash; --no-index proves that nothing else is fetched with them.
    [ "$lock" = tools ] || pip_install --no-index --no-deps --editable . ||
        failed "pip could not install Reedmill itself."
    write_stamp "$made_from"
}

install_locked() { # LOCK OPTION...
    file=locks/$1.txt
    shift
    pip_install --require-hashes --requirement "$file" "$@" ||
        failed "pip could not install what $file names."
}

# These settings of a person's own have no meaning inside an environment, or would ask a hash of
# our own folder; all others stay, among them where packages come from.
pip_install() {
    (cd "$root" && PIP_USER=0 PIP_REQUIRE_HASHES=0 PIP_USE_PEP517=1 "$venv/bin/python" -m pip install \
        --no-input --disable-pip-version-check --no-build-isolation "$@") >>"$log" 2>&1 </dev/null
}

failed() {
    say "$1 The end of $log:"
    tail -n 12 "$log" | sed 's/^/    /' >&2
    ! grep -q 'DO NOT MATCH THE HASHES' "$log" ||
        stop "A package is not the one that was tested (its SHA-256 is not in locks/), and nothing of it was installed: do not use it. Ask whoever keeps your package index; if you changed the packages yourself, run \"sh scripts/lock\"."
    stop "Most often this is the network: run this again when it is there, and the set-up starts afresh."
}

# ---- Python ---------------------------------------------------------------------------

# Sets `python` to the first that truly runs (a pyenv shim may be there and not run).
find_python() {
    without_venv=''
    if [ -n "${REEDMILL_PYTHON-}" ]; then
        set -- "$REEDMILL_PYTHON"
    else
        set -- python3.13 python3.12 python3.11 python3 python
    fi
    for name; do
        python=$(real_python "$name")
        [ -n "$python" ] || continue
        ! has_venv || return 0
        without_venv=${without_venv:-$python}
    done
    python=$without_venv
    [ -n "$python" ] || no_python
    add_venv_module
}

# The path of NAME's own program if it runs and is a supported version, otherwise nothing.
# The real path (python3.12, not python3), so that a system upgrade cannot swap the
# version under .venv.
real_python() {
    "$1" -c '
import os, sys
if (3, 11) <= sys.version_info[:2] <= (3, 13) and sys.implementation.name == "cpython":
    print(os.path.realpath(sys.executable))
' 2>/dev/null </dev/null || :
}

has_venv() { "$python" -c 'import ensurepip, venv' 2>/dev/null; }

no_python() {
    case $(package_manager) in
    apt-get) how='"apt-get install python3 python3-venv" as root (Debian 12 or Ubuntu 24.04, or later)' ;;
    dnf) how='"dnf install python3.12" as root' ;;
    apk) how='"apk add python3" as root' ;;
    pacman) how='"pacman -S python" as root' ;;
    brew) how='"brew install python@3.13"' ;;
    *) how="your system's packages or python.org" ;;
    esac
    asked=${REEDMILL_PYTHON:+" (REEDMILL_PYTHON is $REEDMILL_PYTHON)"}
    stop "Reedmill needs Python 3.11, 3.12 or 3.13 and found none$asked: get one with $how, or set REEDMILL_PYTHON to the path of one, then run this again."
}

# Debian and its kin keep venv's helper in a package of its own, named after the version.
add_venv_module() {
    package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
    if [ "$(package_manager)" = apt-get ]; then
        add_system_package "$package" "which makes the environment" && has_venv && return 0
        stop "$python cannot make an environment yet: run \"apt-get install $package\" as root, then run this again."
    fi
    stop "$python has no venv module with ensurepip: install the full Python package of this system, or set REEDMILL_PYTHON to another Python, then run this again."
}

# ---- System packages ------------------------------------------------------------------

# Asked once for each .venv, so that a machine which cannot have it is not kept waiting again.
# pyfluidsynth does the looking (ctypes.util.find_library, and Homebrew's folders): it is
# what Reedmill will load the library with.
find_fluidsynth() {
    [ ! -e "$venv/fluidsynth-asked" ] || return 0
    : >"$venv/fluidsynth-asked"
    ! has_fluidsynth || return 0
    case $(package_manager) in
    apt-get) package=libfluidsynth3 how="apt-get install libfluidsynth3" ;;
    dnf) package=fluidsynth-libs how="dnf install fluidsynth-libs" ;;
    apk) package=fluidsynth-libs how="apk add fluidsynth-libs" ;;
    pacman) package=fluidsynth how="pacman -S fluidsynth" ;;
    brew) package=fluid-synth how="brew install fluid-synth" ;;
    *) package='' how="your system's package of FluidSynth" ;;
    esac
    if [ -n "$package" ] && add_system_package "$package" "for SoundFont voices" && has_fluidsynth; then
        return 0
    fi
    say "libfluidsynth, which plays SoundFonts, could not be added ($how adds it); the reference tones need no SoundFont, so everything works without it."
}

# Two free fonts that the tests of SoundFonts play, beside the one that comes with pretty_midi.
find_test_fonts() {
    [ ! -e "$venv/fonts-asked" ] || return 0
    : >"$venv/fonts-asked"
    for font in sf2/FluidR3_GM.sf2=fluid-soundfont-gm \
        sf3/MuseScore_General_Lite.sf3=musescore-general-soundfont-small; do
        [ ! -e "/usr/share/sounds/${font%%=*}" ] || continue
        if [ "$(package_manager)" = apt-get ] && add_system_package "${font#*=}" "for the tests"; then
            continue
        fi
        say "/usr/share/sounds/${font%%=*} is missing: the tests that play it will fail and say so (on Debian: apt-get install ${font#*=})."
    done
}

# Tests read finished pages with poppler's tools, and open them in three browsers: WebKit's draws
# on a screen in memory, and the sound of two goes to a server without a device.
find_test_programs() {
    [ ! -e "$venv/programs-asked" ] || return 0
    : >"$venv/programs-asked"
    poppler=poppler-utils
    case $(package_manager) in pacman | brew) poppler=poppler ;; esac
    find_test_program "$poppler" pdftoppm
    find_test_program chromium chromium chromium-browser google-chrome
    find_test_program firefox-esr firefox-esr firefox
    find_test_program webkit2gtk-driver WebKitWebDriver
    find_test_program xvfb Xvfb
    find_test_program pulseaudio pulseaudio
}

# find_test_program PACKAGE PROGRAM...: one of the programs, from the package if need be.
find_test_program() {
    package=$1
    shift
    for program in "$@"; do
        ! command -v "$program" >/dev/null 2>&1 || return 0
    done
    add_system_package "$package" "for the tests" && return 0
    say "$1 is missing: the tests that need it will fail and say so (the package is called $package)."
}

has_fluidsynth() { "$venv/bin/python" -c 'import fluidsynth' >/dev/null 2>&1; }

package_manager() {
    for manager in apt-get dnf apk pacman brew; do
        ! command -v "$manager" >/dev/null 2>&1 || break
        manager=''
    done
    printf '%s\n' "$manager"
}

# add_system_package PACKAGE WHY: never asks anything; false when it may not or cannot.
add_system_package() {
    [ "${REEDMILL_SYSTEM_PACKAGES-}" != no ] || return 1
    case $(package_manager) in
    brew) install='env HOMEBREW_NO_AUTO_UPDATE=1 brew install' ;;
    apt-get) install="$apt install -y --no-install-recommends" ;;
    dnf) install='dnf install -y' ;;
    apk) install='apk add' ;;
    pacman) install='pacman -S --noconfirm --needed' ;;
    *) return 1 ;;
    esac
    may_install || return 1
    say "Installing $1, $2..."
    with_rights "$1" && return 0
    # Only apt keeps lists that a fresh machine does not have yet.
    [ "$(package_manager)" = apt-get ] && as_root "$apt update" && with_rights "$1"
}

# No waiting on a dead network or on another apt for longer than a person would.
apt='env DEBIAN_FRONTEND=noninteractive apt-get -q -o Acquire::Retries=0 -o Acquire::http::Timeout=20 -o DPkg::Lock::Timeout=30'

with_rights() { as_root "$install $1"; }

may_install() {
    [ "$(id -u)" = 0 ] || [ "$(package_manager)" = brew ] || sudo -n true >/dev/null 2>&1
}

# as_root "WORDS": our own fixed words, split here on purpose.  Homebrew refuses root.
as_root() {
    sudo=''
    [ "$(id -u)" = 0 ] || [ "$(package_manager)" = brew ] || sudo='sudo -n'
    # shellcheck disable=SC2086
    $sudo $1 >/dev/null 2>&1 </dev/null
}
