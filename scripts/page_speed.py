"""Measure a page in headless Chromium without a graphics card: its size, the time to open it, frames under the thumb.

    python3 scripts/page_speed.py results/parcel_trike/page.html

Run it in the environment that scripts/test.py makes. The figures are of the machine it runs on, and of what else runs.
"""

import argparse
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from browsing import Tab, browser

OPENINGS, FRAMES, ROUNDS = 3, 120, 3
SLIDE = """async (frames) => {
  const slider = document.querySelector("#drives input");
  const [low, high] = [Number(slider.min), Number(slider.max)];
  const times = [];
  await new Promise((done) => {
    let last;
    const step = (now) => {
      if (last !== undefined) times.push(now - last);
      last = now;
      if (times.length === frames) return done();
      slider.value = low + (high - low) * (0.5 + 0.5 * Math.sin(times.length / 15));
      slider.dispatchEvent(new Event("input"));
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  });
  times.sort((a, b) => a - b);
  const whole = times.reduce((sum, time) => sum + time, 0);
  const { pace, machine, width, tall } = swingroom.view;
  const drawn = machine.parts.reduce((sum, part) => sum + part.faces.geometry.index.count / 3, 0);
  return { rate: (1000 * frames) / whole, middle: times[frames >> 1], slow: times[Math.floor(0.95 * frames)],
    scale: pace.scale, drawn, all: machine.triangles, width, tall };
}"""
DRAW = """() => {
  const { view } = swingroom;
  const graphics = view.renderer.getContext();
  const pixel = new Uint8Array(4);
  view.machine.inFull(false);
  const times = Array.from({ length: 15 }, () => {
    const began = performance.now();
    view.renderer.render(view.scene, view.camera);
    graphics.readPixels(0, 0, 1, 1, graphics.RGBA, graphics.UNSIGNED_BYTE, pixel);
    return performance.now() - began;
  });
  return times.sort((a, b) => a - b)[7];
}"""


def main() -> int:
    """Print the figures of one page."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("page", type=Path)
    page = parser.parse_args().page.resolve()
    print(f"{page.name}: {page.stat().st_size / 1e6:.2f} MB")
    with browser() as opened:
        for _ in range(OPENINGS):
            began = time.monotonic()
            with Tab(opened, page) as tab:
                print(f"opened and drawn in {time.monotonic() - began:.2f} s, {len(tab.fetched)} requests")
        with Tab(opened, page) as tab:
            tab.page.wait_for_timeout(500)
            for _ in range(ROUNDS):
                told = tab.page.evaluate(SLIDE, FRAMES)
                print(
                    "slider: {rate:.0f} frames/s, middle {middle:.0f} ms, 95 % below {slow:.0f} ms; "
                    "{drawn:.0f} of {all:.0f} triangles at {scale:.2f} of {width} x {tall} pixels".format(**told)
                )
            print(f"drawing one frame of these: {tab.page.evaluate(DRAW):.1f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
