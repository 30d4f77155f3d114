// The view of the machine: a parallel sight that is turned, shifted and zoomed, drawn only when something changes.

import { Box3, OrthographicCamera, Raycaster, Scene, Vector2, Vector3, WebGLRenderer } from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { calm } from "./dom.js";
import { Pace } from "./pace.js";
import { sizeOfPicture } from "./paint.js";

const FAR = 1e5; // mm; the sight is parallel, so it can stand back as far as it likes
const REST_MS = 140;
const FLIGHT_MS = 450;
const EDGE = 0.95; // of the way from the middle of the view to its edge
const MOST_PIXELS = 3e6; // of a picture at rest

export class View {
  constructor(canvas, machine) {
    this.canvas = canvas;
    this.machine = machine;
    this.renderer = new WebGLRenderer({ canvas, antialias: false, alpha: true, stencil: true });
    this.scene = new Scene();
    this.scene.add(machine.group);
    this.camera = new OrthographicCamera(-1, 1, 1, -1, 0, 2 * FAR);
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, canvas);
    canvas.style.touchAction = "pan-y"; // a finger that goes up or down scrolls the page, the controls have set none
    this.backAfterScrolling();
    this.controls.addEventListener("change", () => this.moving());
    this.pace = new Pace(machine.triangles);
    this.height = 1; // mm between the lower and the upper edge at zoom 1
    this.afterDrawing = [];
    new ResizeObserver(() => this.resized()).observe(canvas);
    this.resized();
  }

  /** What a finger turned before the page took it for scrolling is turned back. */
  backAfterScrolling() {
    let before = null;
    this.canvas.addEventListener("pointerdown", () => {
      before = [this.camera.position.clone(), this.controls.target.clone()];
    });
    this.canvas.addEventListener("pointercancel", () => {
      if (before === null) return;
      this.camera.position.copy(before[0]);
      this.controls.target.copy(before[1]);
      this.controls.update();
      this.moving();
    });
  }

  /** Draw at the next occasion; while things move, at a size that keeps up. */
  moving() {
    this.inMotion = true;
    clearTimeout(this.rest);
    this.rest = setTimeout(() => this.settle(), REST_MS);
    this.ask();
  }

  settle() {
    this.inMotion = false;
    this.pace.pause();
    this.ask();
  }

  ask() {
    this.asked ??= requestAnimationFrame((now) => {
      this.asked = null;
      this.draw(now);
    });
  }

  draw(now) {
    if (!this.canvas.clientWidth) return; // not shown, as on paper
    if (this.inMotion) this.pace.frame(now);
    this.sized(this.inMotion ? Math.min(2, devicePixelRatio) * this.pace.scale : this.sharpest);
    this.machine.inFull(!this.inMotion || this.pace.inFull);
    this.renderer.render(this.scene, this.camera);
    for (const draw of this.afterDrawing) draw();
  }

  /** Pixels drawn for one of the page at rest: two each way, which smooths edges, unless the picture grows too large. */
  get sharpest() {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    return Math.min(2, Math.max(1, Math.sqrt(MOST_PIXELS / (width * height))));
  }

  sized(ratio) {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (ratio === this.ratio && width === this.width && height === this.tall) return;
    Object.assign(this, { ratio, width, tall: height });
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(width, height, false);
    sizeOfPicture(width * ratio, height * ratio);
  }

  resized() {
    if (!this.canvas.clientWidth) return;
    this.framed();
    this.ask();
  }

  framed() {
    const half = this.height / 2;
    const wide = (half * this.canvas.clientWidth) / (this.canvas.clientHeight || 1);
    Object.assign(this.camera, { left: -wide, right: wide, top: half, bottom: -half });
    this.camera.updateProjectionMatrix();
  }

  /** Look from `from`, a direction, at all that is shown. */
  lookAtAll(from, gently = true) {
    const box = new Box3();
    for (const part of this.machine.parts) if (part.faces.visible) box.expandByObject(part.faces);
    if (box.isEmpty()) return;
    const across = new Vector3().crossVectors(this.camera.up, from).normalize();
    if (across.lengthSq() < 0.5) across.set(0, -1, 0);
    const upright = new Vector3().crossVectors(from, across).normalize();
    const extent = (axis) => {
      const half = box.getSize(new Vector3()).multiplyScalar(0.5);
      return 2 * (Math.abs(axis.x) * half.x + Math.abs(axis.y) * half.y + Math.abs(axis.z) * half.z);
    };
    const wide = (extent(across) * this.canvas.clientHeight) / (this.canvas.clientWidth || 1);
    this.fly(box.getCenter(new Vector3()), from, 1.06 * Math.max(extent(upright), wide), gently);
  }

  /** Look at all that is shown, from where one looks already. */
  lookAtWhole() {
    this.lookAtAll(this.camera.position.clone().sub(this.controls.target).normalize());
  }

  /** Look at all again where one of `parts` has left the view. */
  keepInSight(parts) {
    const gone = parts.some((part) => {
      const box = new Box3().setFromObject(part.faces);
      const ends = [box.min, box.max].map(({ x, y, z }) => [x, y, z]);
      const seen = new Box3();
      for (let k = 0; k < 8; k++) {
        seen.expandByPoint(new Vector3(ends[k & 1][0], ends[(k >> 1) & 1][1], ends[k >> 2][2]).project(this.camera));
      }
      return seen.max.x < -EDGE || seen.min.x > EDGE || seen.max.y < -EDGE || seen.min.y > EDGE;
    });
    if (gone) this.lookAtWhole();
  }

  /** Bring `target` to the middle, seen from the direction `from`, with `height` mm from edge to edge. */
  fly(target, from, height, gently = true) {
    cancelAnimationFrame(this.flight);
    const start = {
      target: this.controls.target.clone(),
      from: this.camera.position.clone().sub(this.controls.target).normalize(),
      height: this.height / this.camera.zoom,
    };
    const began = performance.now();
    const step = (now) => {
      const share = gently && !calm() ? Math.min(1, Math.max(0, (now - began) / FLIGHT_MS)) : 1;
      const soft = share * share * (3 - 2 * share);
      const sight = start.from.clone().lerp(from, soft);
      if (sight.lengthSq() < 1e-4) sight.copy(from);
      this.controls.target.lerpVectors(start.target, target, soft);
      this.camera.position.copy(sight.normalize()).multiplyScalar(FAR).add(this.controls.target);
      this.height = start.height * (height / start.height) ** soft;
      this.camera.zoom = 1;
      this.framed();
      this.controls.update();
      this.moving();
      if (share < 1) this.flight = requestAnimationFrame(step);
    };
    step(began);
  }

  /** Turn round the target: degrees to the left and up. */
  turn(left, up) {
    const away = this.camera.position.clone().sub(this.controls.target);
    away.applyAxisAngle(this.camera.up, (left * Math.PI) / 180);
    const side = new Vector3().crossVectors(this.camera.up, away).normalize();
    const tipped = away.clone().applyAxisAngle(side, (-up * Math.PI) / 180);
    if (Math.abs(tipped.z) / tipped.length() < 0.999) away.copy(tipped);
    this.camera.position.copy(away.add(this.controls.target));
    this.controls.update();
    this.moving();
  }

  zoom(factor) {
    this.camera.zoom *= factor;
    this.camera.updateProjectionMatrix();
    this.moving();
  }

  /** Where a point (x, y, z) of the world is seen, in pixels of the page from the view's corner. */
  seen(point) {
    const place = new Vector3(...point).project(this.camera);
    return [((place.x + 1) / 2) * this.canvas.clientWidth, ((1 - place.y) / 2) * this.canvas.clientHeight];
  }

  /** Millimetres of one pixel of the page. */
  get pixel() {
    return this.height / this.camera.zoom / (this.canvas.clientHeight || 1);
  }

  /** What lies under a place of the view, shares from -1 to 1: the part and the number of its triangle; null if none. */
  under(x, y) {
    const ray = new Raycaster();
    ray.setFromCamera(new Vector2(x, y), this.camera);
    const solid = this.machine.parts.filter((part) => part.solid).map((part) => part.faces);
    const [hit] = ray.intersectObjects(solid, false);
    return hit ? { part: hit.object.userData.part, face: hit.faceIndex } : null;
  }

  /** Whether one of `parts` stands between the viewer in the direction `from` and `point`. */
  hides(parts, point, from) {
    const start = point.clone().addScaledVector(from, FAR / 2);
    const ray = new Raycaster(start, from.clone().negate(), 0, FAR / 2 - 0.5);
    return ray.intersectObjects(parts.map((part) => part.faces), false).length > 0;
  }
}
