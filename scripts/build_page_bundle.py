"""Put the page's program together: assembly/report/page/js with what it uses of three.js, as one file for the browser.

Run it after a change in that folder; it needs node and npm, and the network for the two packages named below. The file
that it writes is kept with the sources, so that nobody else needs either. It carries the digest of the sources that it
was made from (the tests compare it) and the licence of three.js; both licences' text lies beside it.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from assembly.report.page.html import source_digest

PAGE = ROOT / "assembly" / "report" / "page"
PACKAGES = ("three@0.187.0", "esbuild@0.28.2")
OPTIONS = ("--bundle", "--minify", "--format=iife", "--target=es2022", "--legal-comments=none", "--charset=ascii")


def main() -> int:
    """Build the file; 1 where node or npm is missing or fails."""
    if shutil.which("npm") is None:
        print("npm was not found: install node and npm first", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        install = ["npm", "install", "--no-save", "--no-package-lock", "--no-audit", "--no-fund", "--silent", *PACKAGES]
        made = place / "made.js"
        shutil.copytree(PAGE / "js", place / "js")
        bundle = [str(place / "node_modules" / ".bin" / "esbuild"), "js/main.js", *OPTIONS, f"--outfile={made}"]
        for command in (install, bundle):
            if subprocess.run(command, cwd=place, check=False).returncode:
                return 1
        licence = (place / "node_modules" / "three" / "LICENSE").read_text(encoding="utf-8")
        program = made.read_text(encoding="utf-8")
    built = PAGE / "built"
    banner = (
        f"/*! Swingroom's page, sources {source_digest()}.\nIt holds parts of {PACKAGES[0]}:\n\n{licence.strip()}\n*/\n"
    )
    (built / "page.js").write_text(banner + program.strip() + "\n", encoding="utf-8")
    (built / "three-LICENSE.txt").write_text(licence, encoding="utf-8")
    print(f"{built / 'page.js'}: {(built / 'page.js').stat().st_size / 1e3:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
