#!/usr/bin/env bash
# Runs a command in a world of its own: own processes, own /dev/shm, own JACK server with a
# dummy device, and on request an own X server. All of it ends with the command.
#
#   tests/own-world.sh [--screen] [--period FRAMES] [--limit SECONDS] COMMAND [ARG...]
#
# --screen   also start Xvfb, 1280x800, and set DISPLAY
# --period   frames in a JACK period, 64 unless told otherwise
# --limit    kill everything after so many seconds, 0 for never (the default)
#
# The command sees UNDERSONG_TEST_WORLD=jack (or jack,screen). Exit status: the command's;
# 3 if the world cannot be made or a service does not start, 137 at the limit.
# A server that is killed keeps one of the eight places in JACK's registry in /dev/shm, which is
# why the registry is our own. Needs util-linux, jackd2, and Xvfb with xdpyinfo for --screen.
set -u

fail() {
    echo "own-world: $*" >&2
    exit 3
}

need() {
    command -v "$1" >/dev/null || fail "'$1' is missing (Debian package $2)."
}

make_world() {
    [ "$(uname -s)" = Linux ] || fail "this needs Linux; real ports are tested there only."
    need unshare util-linux
    need jackd jackd2
    need jack_wait jackd2
    local as_root=()
    [ "$(id -u)" -eq 0 ] || as_root=(--map-root-user)
    local new=(unshare "${as_root[@]}" -m -p -f --kill-child --mount-proc)
    "${new[@]}" true 2>/dev/null || fail "the kernel gives no new namespaces here;" \
        "run as root (in a container: with CAP_SYS_ADMIN), or allow unprivileged user namespaces" \
        "(sysctl kernel.unprivileged_userns_clone=1 or user.max_user_namespaces above 0)."
    UNDERSONG_WORLD_INSIDE=1 exec "${new[@]}" -- "$0" "$@"
}

log=""
services=()

show_log() {
    sed 's/^/own-world:   /' "$log" >&2
}

start_jack() {
    # -S: the server waits for slow clients, so nothing is lost; -r: no real-time priority needed.
    jackd -S -r -d dummy -r 48000 -p "$period" >>"$log" 2>&1 &
    services+=($!)
    jack_wait -w -t 10 >/dev/null 2>&1 && jack_lsp >/dev/null 2>&1 && return
    show_log
    fail "jackd did not answer within 10 s."
}

start_screen() {
    need Xvfb xvfb
    need xdpyinfo x11-utils
    mkdir -p /tmp/.X11-unix
    mount -t tmpfs -o mode=1777 tmpfs /tmp/.X11-unix || fail "cannot mount over /tmp/.X11-unix."
    local number
    exec {told}<> <(:)
    Xvfb -displayfd "$told" -noreset -screen 0 1280x800x24 -nolisten tcp >>"$log" 2>&1 &
    services+=($!)
    read -r -t 15 -u "$told" number || { show_log; fail "Xvfb did not start within 15 s."; }
    export DISPLAY=":$number"
    xdpyinfo >/dev/null 2>&1 || { show_log; fail "Xvfb does not answer on $DISPLAY."; }
}

run_inside() {
    unset UNDERSONG_WORLD_INSIDE JACK_DEFAULT_SERVER DISPLAY WAYLAND_DISPLAY
    export JACK_NO_AUDIO_RESERVATION=1 JACK_NO_START_SERVER=1 UNDERSONG_TEST_WORLD=jack
    mount -t tmpfs -o mode=1777 tmpfs /dev/shm || fail "cannot mount an own /dev/shm."
    log=$(mktemp)
    start_jack
    if [ "$screen" -eq 1 ]; then
        start_screen
        UNDERSONG_TEST_WORLD=jack,screen
    fi
    if [ "$limit" -gt 0 ]; then
        timeout -s KILL "$limit" "${command[@]}" <&0 &
    else
        "${command[@]}" <&0 &
    fi
    local running=$! status
    trap 'kill -TERM "$running" 2>/dev/null' TERM INT HUP
    wait "$running"
    status=$?
    while kill -0 "$running" 2>/dev/null; do # a trap ended the wait, not the command
        wait "$running"
        status=$?
    done
    for service in "${services[@]}"; do
        kill -0 "$service" 2>/dev/null || { show_log; fail "a service died while it was needed."; }
    done
    kill -TERM "${services[@]}" 2>/dev/null
    rm -f "$log"
    exit "$status" # this is process 1 of the world: whatever still runs ends here
}

screen=0 period=64 limit=0 command=()
all=("$@")
while [ $# -gt 0 ]; do
    case $1 in
        --screen) screen=1 ;;
        --period) period=${2:?} && shift ;;
        --limit) limit=${2:?} && shift ;;
        --) shift && break ;;
        -*) fail "unknown option '$1'." ;;
        *) break ;;
    esac
    shift
done
command=("$@")
[ ${#command[@]} -gt 0 ] || fail "no command given."
if [ "${UNDERSONG_WORLD_INSIDE:-}" = 1 ] && [ $$ -eq 1 ]; then run_inside; else make_world "${all[@]}"; fi
