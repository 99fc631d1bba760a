# Makes a machine ready: system packages, .venv, the project. Sourced by tests/run.sh and
# samples/run.sh, which call `ready run` or `ready test` from the repository root.
#
# Everything is found by trying it (is there a compiler, does Pango load), so that a machine which
# has it by other ways is left alone. A second call compares one stamp and needs no network.

# What the interpreter lacks to make an environment and to compile the rule engine.
python_lacks='
import importlib.util, os, sysconfig
if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
    print("venv")
if not os.path.exists(os.path.join(sysconfig.get_path("include"), "Python.h")):
    print("headers")
'

# Which of the libraries that set the text of a PDF do not load.
libraries_lack='
import ctypes, ctypes.util
wanted = {
    "pango": ("libpango-1.0.so.0", "libpango-1.0.dylib", "pango-1.0"),
    "pangoft2": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib", "pangoft2-1.0"),
    "harfbuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib", "harfbuzz"),
    "harfbuzz-subset": ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib", "harfbuzz-subset"),
    "fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib", "fontconfig"),
}
def loads(name):
    try:
        return bool(name) and bool(ctypes.CDLL(name))
    except OSError:
        return False
for library, (linux, mac, plain) in wanted.items():
    if not (loads(linux) or loads(mac) or loads(ctypes.util.find_library(plain))):
        print(library)
'

say() { printf '%s\n' "$*" >&2; }

# The first Python of at least 3.11; prints its command, fails if there is none.
find_python() {
    local candidate
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s\n' "$candidate"
            return 0
        fi
    done
    return 1
}

# Prints a word for each thing that $1 (run or test) needs and this machine lacks.
lacking() {
    local python
    if python=$(find_python); then
        "$python" -c "$python_lacks"
        "$python" -c "$libraries_lack" | while read -r library; do
            # Older distributions have no package of it; the PDF printer then does without.
            [ "$library" = harfbuzz-subset ] &&
                ! apt-cache show libharfbuzz-subset0 >/dev/null 2>&1 && continue
            printf '%s\n' "$library"
        done
    else
        printf '%s\n' python venv headers
    fi
    command -v cc >/dev/null 2>&1 && echo '#include <stdio.h>' | cc -E -x c - >/dev/null 2>&1 ||
        echo compiler
    command -v dot >/dev/null 2>&1 || echo graphviz
    if [ "$1" = test ]; then
        command -v ngspice >/dev/null 2>&1 || echo ngspice
        has_postgresql || echo postgresql
    fi
}

# Whether a PostgreSQL server can be started: distributions keep its programs off the PATH.
has_postgresql() {
    command -v initdb >/dev/null 2>&1 && command -v pg_ctl >/dev/null 2>&1 && return 0
    local program
    for program in /usr/lib/postgresql/*/bin/initdb /usr/pgsql-*/bin/initdb \
        /opt/homebrew/opt/postgresql*/bin/initdb /usr/local/opt/postgresql*/bin/initdb; do
        [ -x "$program" ] && return 0
    done
    return 1
}

# The package of manager $1 (apt, dnf, brew) that brings the thing $2.
package() {
    # A Python that is not the distribution's default brings its parts under its own name.
    local python=python3
    case "$1:$(find_python || echo none)" in
        apt:none) python=python3.11 ;;
        apt:python3.*) python=$(find_python) ;;
    esac
    case "$1:$2" in
        apt:python) echo "$python" ;;
        apt:venv) echo "$python-venv" ;;
        apt:headers) echo "$python-dev" ;;
        apt:compiler) echo gcc libc6-dev ;;
        apt:pango) echo libpango-1.0-0 ;;
        apt:pangoft2) echo libpangoft2-1.0-0 ;;
        apt:harfbuzz) echo libharfbuzz0b ;;
        apt:harfbuzz-subset) echo libharfbuzz-subset0 ;;
        apt:fontconfig) echo libfontconfig1 ;;
        dnf:postgresql) echo postgresql-server ;;
        dnf:python | dnf:venv) echo python3 ;;
        dnf:headers) echo python3-devel ;;
        dnf:compiler) echo gcc ;;
        dnf:pango | dnf:pangoft2) echo pango ;;
        dnf:harfbuzz | dnf:harfbuzz-subset) echo harfbuzz ;;
        brew:python | brew:venv | brew:headers) echo python@3.12 ;;
        brew:compiler) ;; # comes with the command-line tools that brew itself needs
        brew:pango | brew:pangoft2) echo pango ;;
        brew:harfbuzz | brew:harfbuzz-subset) echo harfbuzz ;;
        *) echo "$2" ;;
    esac
}

# The packages of manager $1 for the things in the other arguments, each once.
packages() {
    local manager=$1 thing
    shift
    for thing in "$@"; do package "$manager" "$thing"; done | tr ' ' '\n' | sort -u | tr '\n' ' '
}

print_commands() {
    say "This machine lacks: $*."
    say "Install it, then start this again:"
    say "  apt:   sudo apt-get update && sudo apt-get install -y $(packages apt "$@")"
    say "  dnf:   sudo dnf install -y $(packages dnf "$@")"
    say "  brew:  brew install $(packages brew "$@")"
}

# Installs with apt-get as root or through sudo; fails where neither can be had.
install_packages() {
    local -a as_root=()
    command -v apt-get >/dev/null 2>&1 || return 1
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null 2>&1 || return 1
        as_root=(sudo)
        # Without a terminal nobody can type the password.
        [ -t 0 ] || sudo -n true 2>/dev/null || return 1
    fi
    say "Installing: $(packages apt "$@")"
    "${as_root[@]}" apt-get update -qq >&2 || return 1
    # shellcheck disable=SC2046  # one word per package is meant
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq \
        --no-install-recommends $(packages apt "$@") >&2
}

# Whether .venv serves $2 already, by interpreter $1. What serves the tests serves a run, too.
installed() {
    local purpose
    [ -x .venv/bin/python ] || return 1
    for purpose in "$2" test; do
        [ "$(cat ".venv/ready-for-$purpose" 2>/dev/null)" = "$(fingerprint "$1" "$purpose")" ] &&
            return 0
    done
    return 1
}

# Changes when the interpreter, the place, the needs, the pinned versions or the C sources change.
fingerprint() {
    "$1" - "$2" <<'PYTHON'
import hashlib, os, pathlib, sys
seen = hashlib.sha256(f"{sys.version}|{os.getcwd()}|{sys.argv[1]}".encode())
needs = [pathlib.Path("pyproject.toml"), pathlib.Path("tests/requirements.lock")]
for path in (*needs, *sorted(pathlib.Path("engine").rglob("*.[ch]"))):
    seen.update(str(path).encode() + path.read_bytes())
print(seen.hexdigest())
PYTHON
}

# Installs into .venv at the pinned versions, without the builders' notes to packagers.
pip_install() {
    local flags=${CPPFLAGS:-}
    # Python 3.13 dropped the old name of a call that the rule engine's C source still uses.
    if .venv/bin/python -c 'import sys; sys.exit(sys.version_info < (3, 13))'; then
        flags="$flags -DPyEval_CallObject=PyObject_CallObject"
    fi
    CPPFLAGS=$flags PYTHONWARNINGS=ignore .venv/bin/python -m pip install --quiet \
        --constraint tests/requirements.lock "$@"
}

# ready run|test: afterwards .venv/bin holds the project with what $1 needs.
ready() {
    local purpose=$1 python stamp extras
    # What can only be asked of a Python is asked again once there is one.
    for _ in first second; do
        # shellcheck disable=SC2046  # one word per thing is meant
        set -- $(lacking "$purpose")
        [ $# -eq 0 ] && break
        install_packages "$@" || break
    done
    # shellcheck disable=SC2046
    set -- $(lacking "$purpose")
    if [ $# -gt 0 ]; then
        print_commands "$@"
        return 2
    fi
    python=$(find_python)
    installed "$python" "$purpose" && return 0
    stamp=.venv/ready-for-$purpose
    extras=''
    [ "$purpose" = test ] && extras='[test]'
    say "Installing the project into .venv (once; later runs skip this)"
    # An environment that was moved or made by another interpreter is made anew.
    if [ "$(.venv/bin/python -c 'import sys; print(sys.prefix, sys.version)' 2>/dev/null)" != \
        "$("$python" -c 'import os, sys; print(os.getcwd() + "/.venv", sys.version)')" ]; then
        "$python" -m venv --clear .venv || return 2
    fi
    rm -f "$stamp"
    # The builder is pinned too: without isolation pip compiles the rule engine with it.
    if ! pip_install pip setuptools wheel ||
        ! pip_install --no-build-isolation --editable ".$extras"; then
        say "pip could not install the project; what it says stands above."
        return 2
    fi
    fingerprint "$python" "$purpose" >"$stamp"
}
