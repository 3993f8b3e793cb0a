#!/usr/bin/env bash
# How three.js beside this file was made: three 0.187.0 and esbuild 0.28.2 from the npm registry, only what
# three-entry.js names. Run again to move to another version; look at the page afterwards.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
npm init -y >/dev/null
npm install --no-audit --no-fund three@0.187.0 esbuild@0.28.2
node node_modules/esbuild/install.js
cp "$here/three-entry.js" entry.js
node_modules/.bin/esbuild entry.js --bundle --minify --format=iife --global-name=THREE --target=es2020 \
  --legal-comments=none --outfile="$here/three.js"
cp node_modules/three/LICENSE "$here/three-LICENSE.txt"
