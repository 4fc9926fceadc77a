#!/bin/sh
# Starts Umberkeep: makes the environment when it is missing or out of date, then serves.
set -eu

usage() {
    cat <<'TEXT'
Usage: sh deploy/start.sh [--demo] [--data DIR] [--port N] [--host H]
       sh deploy/start.sh --prepare

  --demo      an invented shop to try things on (its own data folder, .data/demo)
  --data DIR  where the shop's records are kept (default: UMBERKEEP_DATA, else .data/shop in this folder)
  --port N    the port to serve on
  --host H    the address to serve on; without it only this machine can reach the service
  --prepare   only make the environment, serve nothing
TEXT
}

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd -P)
. "$here/environment.sh"

wrong() { say "$*"; usage >&2; exit 2; }
value_of() { [ $# -ge 2 ] && [ -n "$2" ] || wrong "$1 needs a value."; }

demo='' data=${UMBERKEEP_DATA:-} port='' host='' prepare=''
while [ $# -gt 0 ]; do
    case "$1" in
        --demo) demo=yes ;;
        --prepare) prepare=yes ;;
        --data) value_of "$@"; data=$2; shift ;;
        --data=?*) data=${1#*=} ;;
        --port) value_of "$@"; port=$2; shift ;;
        --port=?*) port=${1#*=} ;;
        --host) value_of "$@"; host=$2; shift ;;
        --host=?*) host=${1#*=} ;;
        -h | --help) usage; exit 0 ;;
        *) wrong "Not an option of this command: $1" ;;
    esac
    shift
done

case "$port" in
    '') ;;
    *[!0-9]* | ??????*) wrong "The port is a whole number from 1 to 65535, not: $port" ;;
    *) [ "$port" -ge 1 ] && [ "$port" -le 65535 ] || wrong "The port is a whole number from 1 to 65535, not: $port" ;;
esac

if [ -z "$data" ]; then
    if [ -n "$demo" ]; then data="$root/.data/demo"; else data="$root/.data/shop"; fi
fi
case "$data" in /*) ;; *) data="$PWD/$data" ;; esac

make_environment run
[ -z "$prepare" ] || exit 0

set -- serve --data "$data"
[ -z "$host" ] || set -- "$@" --host "$host"
[ -z "$port" ] || set -- "$@" --port "$port"
[ -z "$demo" ] || set -- "$@" --demo
# exec: the server takes this process's place, so a stop signal reaches it and not a shell that waits.
exec "$venv/bin/umberkeep" "$@"
