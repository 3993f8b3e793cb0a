#!/usr/bin/env bash
# What people look at, looked at by a browser, a PDF reader and a spreadsheet. Needs chromium, pdftotext, soffice, node,
# npm and python3; .ci/browser installs them. They fail here, they do not skip.
set -euo pipefail
cd "$(dirname "$0")"
root=$(cd ../.. && pwd)
program=${CRAGSKIN:-${CARGO_TARGET_DIR:-$root/target}/release/cragskin}
out=${OUT:-$(mktemp -d)}
mkdir -p "$out"
export PROGRAM=$program OUT=$out ROOT=$root
npm ci --no-audit --no-fund --silent
[ -x "$out/venv/bin/python" ] || python3 -m venv "$out/venv"
"$out/venv/bin/pip" install --quiet --disable-pip-version-check -r requirements.txt
node --test --test-reporter=spec page.test.mjs
"$out/venv/bin/python" -m unittest -v test_papers
