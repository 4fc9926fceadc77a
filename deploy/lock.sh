#!/bin/sh
# Makes the two locks anew from pyproject.toml: every library with version and hashes, for Python 3.11 to 3.13.
# Run it after changing a dependency:  sh deploy/lock.sh            (keeps versions that still fit)
#                                      sh deploy/lock.sh --upgrade  (takes the newest that fit)
# It writes the library versions into a private folder first, so an interrupted run leaves the old locks alone.
set -eu

case "${1:-}" in
    '' | --upgrade) ;;
    *) printf 'Usage: sh deploy/lock.sh [--upgrade]\n' >&2; exit 2 ;;
esac

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd -P)
. "$here/environment.sh"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find_python
"$python" -m venv "$work/tool"
"$work/tool/bin/python" -m pip install --quiet --disable-pip-version-check uv

# setuptools stands in the lock because the project itself is built with it, without fetching anything more.
printf 'setuptools>=77\n' >"$work/build.in"
[ ! -f "$here/requirements.lock" ] || cp "$here/requirements.lock" "$work/requirements.lock"
[ ! -f "$here/requirements-test.lock" ] || cp "$here/requirements-test.lock" "$work/requirements-test.lock"

cd "$root"
compile() {
    # No annotations: they would carry this machine's folder names into the file.
    "$work/tool/bin/uv" pip compile --quiet --universal --python-version 3.11 --generate-hashes \
        --no-emit-index-url --no-annotate --no-header "$@" pyproject.toml "$work/build.in" >/dev/null
}
compile ${1:+"$1"} -o "$work/requirements.lock"
# The test lock holds the same versions and adds the test tools.
compile ${1:+"$1"} --extra test --constraint "$work/requirements.lock" -o "$work/requirements-test.lock"

for name in requirements.lock requirements-test.lock; do
    {
        printf '# Made by deploy/lock.sh from pyproject.toml; do not edit by hand.\n'
        cat "$work/$name"
    } >"$work/$name.done"
    cp "$work/$name.done" "$here/$name"
done
printf 'Wrote deploy/requirements.lock and deploy/requirements-test.lock.\n'
