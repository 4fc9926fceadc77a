# Sourced by start.sh, test.sh, lock.sh, backup.sh and restore.sh, after setting `here` to the folder of this file.
# Gives: root, venv, say, fail, find_python (sets `python`), make_environment run|test.
# shellcheck shell=sh

root=$(CDPATH='' cd -- "$here/.." && pwd -P)
venv="$root/.venv"

say() { printf '%s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

# A Python started elsewhere must not lend its libraries or its settings to ours.
unset PYTHONHOME PYTHONPATH PIP_TARGET PIP_PREFIX PIP_REQUIRE_VIRTUALENV
PIP_USER=0
export PIP_USER

find_python() {
    # A name on the PATH may be a shim that leads nowhere, so each one is asked for its version.
    for python in python3.13 python3.12 python3.11 python3; do
        if "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            if "$python" -c 'import venv, ensurepip' >/dev/null 2>&1; then
                return 0
            fi
            lacking=${lacking:-$python}
        fi
    done
    if [ -n "${lacking:-}" ]; then
        fail "Python is here but cannot make an environment: install the Debian package python3-venv (sudo apt-get install python3-venv) and start again."
    fi
    fail "Umberkeep needs Python 3.11 or newer: install the Debian packages python3 and python3-venv (sudo apt-get install python3 python3-venv) and start again."
}

# What an environment was made from. The folder counts too: an environment that was moved points at its old place.
_fingerprint() {
    printf '%s\n' "$root"
    cksum <"$root/pyproject.toml"
    cksum <"$here/$1"
    "$venv/bin/python" -c 'import sys; print(*sys.version_info[:2])'
}

_stamped() {
    [ -f "$venv/made-for-$1" ] && [ ! -e "$venv/half-made" ] && [ -x "$venv/bin/umberkeep" ] &&
        [ "$(cat "$venv/made-for-$1")" = "$(_fingerprint "$2" 2>/dev/null)" ]
}

_usable() {
    [ ! -e "$venv/half-made" ] && [ "$(cat "$venv/made-at" 2>/dev/null || printf '%s' "$root")" = "$root" ] &&
        "$venv/bin/python" -c 'import sys; sys.exit(sys.version_info < (3, 11) or sys.prefix == sys.base_prefix)' \
            >/dev/null 2>&1 &&
        "$venv/bin/python" -m pip --version >/dev/null 2>&1
}

_no_index() {
    grep -q -i -E 'name resolution|connection (refused|reset|broken|error)|newconnectionerror|network is unreachable|max retries|timed out|no matching distribution|proxyerror|sslerror' "$1"
}

_pip_failed() {
    say ""
    tail -n 12 "$1" >&2
    say ""
    if _no_index "$1"; then
        # pip fetches before it changes anything, so what was installed before still stands.
        rm -f "$venv/half-made"
        fail "The libraries could not be fetched: check that this machine reaches a Python package index (network, proxy, or pip's own settings), then run the same command again. Nothing in the shop's data was touched."
    fi
    fail "The libraries could not be installed (the last lines are above, all of them in $1). Run the same command again: it will make the environment from nothing. Nothing in the shop's data was touched."
}

_pip() {
    "$venv/bin/python" -m pip --disable-pip-version-check --no-input install --progress-bar off "$@" \
        >>"$venv/install.log" 2>&1 || _pip_failed "$venv/install.log"
}

_install() {
    _usable || {
        find_python
        say "Making the Python environment in $venv ($("$python" -V 2>&1)) ..."
        "$python" -m venv --clear "$venv" >/dev/null 2>&1 ||
            fail "The environment could not be made in $venv: check that you may write there and that the disk has room; on Debian the package python3-venv is needed (sudo apt-get install python3-venv)."
        printf '%s\n' "$root" >"$venv/made-at"
    }
    say "Installing the libraries named in deploy/$2 (a minute or two, the first time only) ..."
    : >"$venv/half-made"
    : >"$venv/install.log"
    _pip --require-hashes -r "$here/$2"
    _pip --no-deps --no-build-isolation --no-index -e "$root"
    rm -f "$venv/made-for-run" "$venv/made-for-test"
    _fingerprint requirements.lock >"$venv/made-for-run"
    # The test lock holds everything that the run lock holds, in the same versions; not the other way round.
    [ "$1" = run ] || _fingerprint requirements-test.lock >"$venv/made-for-test"
    printf '%s\n' "$root" >"$venv/made-at"
    rm -f "$venv/half-made"
}

make_environment() {
    case "$1" in
        run) _lock=requirements.lock ;;
        test) _lock=requirements-test.lock ;;
    esac
    _stamped "$1" "$_lock" && return 0
    # Two starts at once: the second waits for the first. The lock file is only held open, never written.
    exec 9<"$here/requirements.lock"
    if command -v flock >/dev/null 2>&1; then flock 9; fi
    _stamped "$1" "$_lock" || _install "$1" "$_lock"
    exec 9<&-
}
