#!/usr/bin/env bash
# Lint, types and all tests, from a fresh clone on a bare machine. Arguments go to pytest:
#   bash tests/run.sh -k discharge
set -u
cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 2
. tests/ready.sh
ready test || exit $?

# The workers take the files in the order that tests/conftest.py gives, the longest first, not
# those of many tests first.
# All three run even if one fails, so that one run shows everything there is to mend.
failed=0
.venv/bin/ruff check . || failed=1
.venv/bin/mypy || failed=1
.venv/bin/pytest -n 2 --dist loadfile --no-loadscope-reorder "$@" || failed=1
exit $failed
