#!/bin/sh
# Makes the environment, then runs `umberkeep restore`: puts a copy into a new folder (or an empty PostgreSQL database); overwrites nothing.
#   sh deploy/restore.sh COPY [--data DIR]
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd -P)
. "$here/environment.sh"
: "${UMBERKEEP_DATA:=$root/.data/shop}"
export UMBERKEEP_DATA
make_environment run
exec "$venv/bin/umberkeep" restore "$@"
