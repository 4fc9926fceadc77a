#!/bin/sh
# Makes the environment, then runs `umberkeep backup`: a dated copy of the shop's records, while the service runs.
#   sh deploy/backup.sh [--data DIR] [--to DIR]
# A copy on the same disk helps against mistakes only: name a second disk with --to, and try a restore now and then.
set -eu
here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd -P)
. "$here/environment.sh"
: "${UMBERKEEP_DATA:=$root/.data/shop}"
export UMBERKEEP_DATA
make_environment run
exec "$venv/bin/umberkeep" backup "$@"
