# find_python prints a Python 3.11, or says what to install. Read by ./start and ./check.
find_python() {
    for name in "${RINGWRIGHT_PYTHON:-python3.11}" python3.11 python3 python; do
        if "$name" -c 'import sys; sys.exit(sys.version_info[:2] != (3, 11))' >/dev/null 2>&1; then
            command -v "$name"
            return 0
        fi
    done
    {
        echo "Ringwright needs Python 3.11 and found none on this machine."
        echo "On Debian 12: apt install python3.11 python3.11-venv. Elsewhere, install Python 3.11 and"
        echo "try again; RINGWRIGHT_PYTHON=/path/to/python3.11 names one that is not on the PATH."
    } >&2
    return 1
}
