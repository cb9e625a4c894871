#!/bin/sh
# What the container does: serve (after bringing the store up to date), nightly, weekly, or any command.
set -eu
case "${1:-serve}" in
    serve)
        python -m ringwright migrate
        exec python -m ringwright serve
        ;;
    nightly)
        exec python /deploy/nightly.py
        ;;
    weekly)
        exec python /deploy/weekly.py
        ;;
    *)
        exec python -m ringwright "$@"
        ;;
esac
