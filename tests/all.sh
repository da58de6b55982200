#!/usr/bin/env bash
# Every test, in two runs side by side: those of the pure part, niced, and those on real ports and
# a real screen, which need time on time and mostly wait. Run inside tests/own-world.sh --screen.
#
#   tests/all.sh PYTHON
#
# Exit status: 0 if both runs pass.
set -u
cd "$(dirname "$0")/.."
python=$1
pure=(tests/theory tests/clock tests/notes tests/answer tests/practice tests/takes tests/oracle tests/fuzz)

log=$(mktemp)
nice -n 19 "$python" -m pytest -q -p no:cacheprovider "${pure[@]}" >"$log" 2>&1 &
beside=$!
"$python" -m pytest "${pure[@]/#/--ignore=}"
real_status=$?
echo "--- on real ports and screen: status $real_status; now the pure part:"
wait "$beside"
pure_status=$?
cat "$log"
rm -f "$log"
exit $((real_status || pure_status))
