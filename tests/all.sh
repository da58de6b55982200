#!/usr/bin/env bash
# Every test, in three runs side by side. Those on real ports and a real screen need time on time
# and mostly wait; all the others need the processor: two niced workers take them folder by folder
# (the long ones first), where no JACK server and no screen can be reached.
# Run inside tests/own-world.sh --screen.
#
#   tests/all.sh PYTHON
#
# Exit status: 0 if every run passes.
set -u
cd "$(dirname "$0")/.."
export python=$1 logs=$(mktemp -d)
real="jack or window"
export others="not ($real)"

run_others() { # a folder of tests, or several files
    local log
    log=$logs/$(basename "${1%% *}")
    # shellcheck disable=SC2086 # the words of $1 are paths
    env -u DISPLAY UNDERSONG_TEST_WORLD= JACK_DEFAULT_SERVER=unreachable \
        nice -n 19 "$python" -m pytest -q -p no:cacheprovider -m "$others" $1 >"$log" 2>&1 ||
        touch "$log.failed"
}
export -f run_others

folders() {
    local long=(tests/answer tests/oracle tests/notes tests/theory tests/faces)
    printf '%s\n' "${long[@]}"
    find tests -mindepth 2 -maxdepth 2 -name 'test_*.py' -printf '%h\n' | sort -u |
        grep -vxF "$(printf '%s\n' "${long[@]}")"
    echo tests/test_*.py
}

set -m # else what runs in the background would not hear Ctrl+C, which is tested
folders | xargs -d '\n' -P 2 -I '{}' bash -c 'run_others "{}"' &
workers=$!
mapfile -t files < <(grep -rlE 'mark\.(jack|window)' tests --include='test_*.py' | sort)
"$python" -m pytest -m "$real" "${files[@]}"
status=$?
echo "--- on real ports and screen: status $status; now all the others:"
wait "$workers" || status=1
for log in "$logs"/*; do
    case $log in
        *.failed) status=1 && echo "--- failed: $(basename "${log%.failed}")" ;;
        *) echo "--- $(basename "$log")" && cat "$log" ;;
    esac
done
rm -rf "$logs"
exit "$status"
