#!/bin/sh
# Makes the environment with the test tools and runs every check: ruff, mypy, then all tests.
#   sh deploy/test.sh                        everything
#   sh deploy/test.sh -k rags -x             further arguments go to pytest
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd -P)
. "$here/environment.sh"

missing='' packages=''
lacks() { missing="${missing:+$missing, }$1"; packages="${packages:+$packages }$2"; }

have_chromium() { command -v chromium >/dev/null 2>&1 || command -v chromium-browser >/dev/null 2>&1; }
have_postgresql() {
    command -v initdb >/dev/null 2>&1 && command -v pg_ctl >/dev/null 2>&1 && return 0
    for folder in /usr/lib/postgresql/*/bin; do
        [ -x "$folder/initdb" ] && [ -x "$folder/pg_ctl" ] && return 0
    done
    return 1
}

# The tool that steers the browser needs this library; without any python3 the environment says so itself, later.
have_libatomic() {
    ! command -v python3 >/dev/null 2>&1 ||
        python3 -c 'import ctypes; ctypes.CDLL("libatomic.so.1")' >/dev/null 2>&1
}

have_strace() { command -v strace >/dev/null 2>&1; }
have_faketime() {
    for file in /usr/lib/*/faketime/libfaketime.so.1 /usr/lib/faketime/libfaketime.so.1; do
        [ -e "$file" ] && return 0
    done
    return 1
}

have_chromium || lacks "the Chromium browser" chromium
have_postgresql || lacks "the PostgreSQL server programs" postgresql
have_libatomic || lacks "the library libatomic" libatomic1
have_strace || lacks "strace" strace
have_faketime || lacks "the library libfaketime" libfaketime
[ -z "$missing" ] ||
    fail "The tests need $missing: install the Debian package(s) with: sudo apt-get install $packages"

make_environment test
cd "$root"

# Every check runs even when an earlier one fails; pytest is last, so its closing line closes the output.
failed=''
"$venv/bin/python" -m ruff check service tests deploy || failed="$failed ruff"
"$venv/bin/python" -m mypy || failed="$failed mypy"
# Two at a time, a file each: files share costly fixtures. `-n 0` runs them one after another.
"$venv/bin/python" -m pytest -n 2 --dist loadfile "$@" || failed="$failed pytest"
[ -z "$failed" ] || fail "Not passed:$failed"
