#!/bin/sh
# Collects the fonts that the sample maker sets type in, at make time only; nothing of them is committed.
# Reads fonts.txt, fetches each npm package named there, unpacks its WOFF files to TrueType, and writes
# LICENCES.txt with what each package says of its own licence. Needs npm, tar and python3.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
into="$here/fonts"
mkdir -p "$into/packages"
cd "$into/packages"
grep -v '^#' ../../fonts.txt | awk 'NF { print $3 }' | sort -u | while read -r name; do
    [ -d "$name" ] && continue
    mkdir -p "$name.part"
    tarball=$(npm pack --silent "@fontsource/$name")
    tar -xzf "$tarball" -C "$name.part" --strip-components=1
    rm -f "$tarball"
    mv "$name.part" "$name"
    echo "fetched $name"
done
cd "$here"
python3 - "$into" <<'PY'
import json, pathlib, struct, sys, zlib

into = pathlib.Path(sys.argv[1])

def unpack(woff):
    """TrueType bytes of a WOFF 1.0 file (W3C Recommendation, 13 December 2012, sections 3 to 5)."""
    flavour, _, count = struct.unpack(">4xIIH", woff[:14])
    tables = []
    for i in range(count):
        tag, start, packed, size, check = struct.unpack(">4sIIII", woff[44 + 20 * i:64 + 20 * i])
        data = woff[start:start + packed]
        tables.append((tag, check, zlib.decompress(data) if packed < size else data))
    reach = 1
    while reach * 2 <= count:
        reach *= 2
    head = struct.pack(">IHHHH", flavour, count, reach * 16, reach.bit_length() - 1, count * 16 - reach * 16)
    at, body, index = 12 + 16 * count, b"", b""
    for tag, check, data in tables:
        index += struct.pack(">4sIII", tag, check, at + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    return head + index + body

licences, missing = {}, []
for line in (into.parent / "fonts.txt").read_text().splitlines():
    if not line.strip() or line.startswith("#"):
        continue
    group, role, name, weight, style = line.split()
    source = into / "packages" / name / "files" / f"{name}-latin-{weight}-{style}.woff"
    if not source.exists():
        missing.append(str(source.name))
        continue
    (into / f"{name}-{weight}-{style}.ttf").write_bytes(unpack(source.read_bytes()))
    about = json.loads((into / "packages" / name / "package.json").read_text())
    licences[name] = f"{name}\t{about.get('version')}\t{about.get('license')}\t@fontsource/{name}"
(into / "LICENCES.txt").write_text("\n".join(licences[k] for k in sorted(licences)) + "\n")
print(f"{len(licences)} families in {into}; licences in LICENCES.txt")
if missing:
    sys.exit("fonts.txt: no such file in its package: " + ", ".join(missing) + "; correct the weight or style.")
PY
