# Sourced by scripts/test and scripts/demo, from the repository root. Sets the machine up; leaves PYTHON pointing at
# the project's own environment. HANDSFREE_VENV names another folder for it.
# What is installed: system packages (Debian/Ubuntu), listed here and nowhere else, and Python packages, exactly the files
# whose hashes stand in scripts/locks.

SYSTEM_PACKAGES="espeak-ng flite festival festvox-kallpc16k festvox-us-slt-hts libportaudio2 libasound2-plugins pulseaudio pulseaudio-utils"
BROWSER_PACKAGES="chromium fonts-dejavu-core" # for tests of pages only; without them those tests skip, and say so
TRACING_PACKAGES="strace" # for tests that nothing leaves the machine; likewise
STORE_PACKAGES="postgresql" # for tests of the store of many rooms; likewise

apt_install() { # packages; waits for another that installs
    apt-get update -qq >&2 &&
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq -o DPkg::Lock::Timeout=600 --no-install-recommends "$@" >&2
}

want() { # $1: what skips without; $2: packages; the rest: programs of which one is enough
    tests=$1
    packages=$2
    shift 2
    for program in "$@"; do
        command -v "$program" >/dev/null 2>&1 && return 0
    done
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "installing system packages: $packages" >&2
        apt_install $packages && return 0
    fi
    echo "$tests will skip; for them: sudo apt-get install -y $packages" >&2
}

want_for_tests() {
    want "tests of pages in a browser" "$BROWSER_PACKAGES" chromium chromium-browser google-chrome
    want "tests that nothing leaves the machine" "$TRACING_PACKAGES" strace
    want "tests of the store of many rooms" "$STORE_PACKAGES" initdb /usr/lib/postgresql/*/bin/initdb
}

memory_folder() { # prints a new folder that lies in memory; 1 where there is none, or no room for what the tests write
    [ -d /dev/shm ] && [ -w /dev/shm ] || return 1
    free_kb=$(df -kP /dev/shm | awk 'NR == 2 { print $4 }')
    available_kb=$(awk '/^MemAvailable:/ { print $2 }' /proc/meminfo)
    [ "${free_kb:-0}" -ge 4000000 ] && [ "${available_kb:-0}" -ge 8000000 ] || return 1
    folder=$(mktemp -d /dev/shm/handsfree-tests.XXXXXX) || return 1
    # Tests also run programs that they write; some machines permit that on disks only.
    printf '#!/bin/sh\n' >"$folder/probe" && chmod +x "$folder/probe" && "$folder/probe" 2>/dev/null || {
        rm -rf "$folder"
        return 1
    }
    rm "$folder/probe"
    # As passable as /tmp: some tests go on as another user.
    chmod 711 "$folder"
    echo "$folder"
}

need_system_packages() {
    missing=""
    for package in $SYSTEM_PACKAGES; do
        dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q "install ok installed" || missing="$missing $package"
    done
    [ -z "$missing" ] && return 0
    if [ "$(id -u)" = 0 ]; then
        echo "installing system packages:$missing" >&2
        apt_install $missing || {
            echo "could not install:$missing" >&2
            return 1
        }
    else
        echo "missing system packages; install them with:" >&2
        echo "    sudo apt-get install -y --no-install-recommends$missing" >&2
        return 1
    fi
}

find_python() {
    for candidate in python3.13 python3.11 python3.12 python3; do # first those for which nothing in C has to be built
        command -v "$candidate" >/dev/null 2>&1 || continue
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        "$candidate" -c 'import ensurepip, venv' 2>/dev/null || continue
        echo "$candidate"
        return 0
    done
    return 1
}

install() { # $1: what is installed, in words; the rest: what pip is told. One line where it fails; all that pip says is kept
    words=$1
    shift
    # A build looks for its programs in PATH, where the environment is first, as it would be for an isolated one.
    PATH="$(cd "$venv/bin" && pwd):$PATH" "$PYTHON" -m pip install --disable-pip-version-check --no-deps --no-build-isolation "$@" >>"$log" 2>&1 && return 0
    why="a file could not be fetched or built"
    grep -q "DO NOT MATCH THE HASHES" "$log" && why="a file is not the one that was locked"
    echo "could not install $words: $why; all that pip said: $log" >&2
    return 1
}

set_up() { # $1: name of the lock file, "demo" or "test"; returns 1, with one line, where it cannot be done
    command -v dpkg-query >/dev/null 2>&1 && { need_system_packages || return 1; }
    base_python=$(find_python) || {
        if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
            apt_install python3 python3-venv
        fi
        base_python=$(find_python) || {
            echo "needs Python 3.11 or newer with venv: sudo apt-get install -y python3 python3-venv" >&2
            return 1
        }
    }
    venv=${HANDSFREE_VENV:-.venv}
    [ -x "$venv/bin/python" ] || "$base_python" -m venv "$venv" || return 1
    PYTHON="$venv/bin/python"
    lock="scripts/locks/$1.txt"
    build="scripts/locks/build.txt"
    stamp="$venv/.handsfree-$1"
    asked=$(cat "$build" "$lock" pyproject.toml | cksum)
    [ "$(cat "$stamp" 2>/dev/null)" = "$asked" ] && return 0
    log="$venv/set-up.log"
    : >"$log"
    # The locks name all that is installed, so nothing is left to be resolved, and what comes as source alone is built with
    # what stands in the environment by then: pip fetches nothing besides. Where it would build in C, it wants a compiler.
    install "what $build names" --require-hashes --only-binary :all: -r "$build" &&
        install "what $lock names" --require-hashes --use-pep517 -r "$lock" &&
        install "the project itself" -e . || return 1
    echo "$asked" >"$stamp"
}
