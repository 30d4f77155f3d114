// How faces and edges are drawn: flat light that comes from the viewer's left shoulder, as cheap as can be.

import {
  AlwaysStencilFunc,
  EqualStencilFunc,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  NotEqualStencilFunc,
  ReplaceStencilOp,
  ShaderMaterial,
  Vector2,
  Vector3,
} from "three";

const FACE_VERTEX = `
varying vec3 seen;
void main() {
  seen = mat3(modelViewMatrix) * position; // its slopes are wanted only: without the long way to the viewer they are sharp
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;
const FACE_FRAGMENT = `
uniform vec3 colour;
uniform vec3 rim;
uniform float opacity;
varying vec3 seen;
void main() {
  vec3 normal = normalize(cross(dFdx(seen), dFdy(seen)));
  float light = 0.58 + 0.46 * max(0.0, dot(normal, vec3(-0.36, 0.56, 0.745)));
  float facing = smoothstep(0.06, 0.36, normal.z); // what turns away is drawn as an outline
  gl_FragColor = vec4(mix(rim, colour * light, facing), opacity);
}`;
const EDGE_VERTEX = `
attribute vec2 nudge;
uniform vec2 pixel;
void main() {
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
  gl_Position.xy += nudge * pixel * gl_Position.w;
}`;
const EDGE_FRAGMENT = `
uniform vec3 colour;
uniform float opacity;
void main() { gl_FragColor = vec4(colour, opacity); }`;

const PIXEL = { value: new Vector2() };
const NUDGES = [0, 0, 1, 0, 0, 1, 1, 1];

/** Tell all edges the size of the picture in pixels. */
export function sizeOfPicture(wide, tall) {
  PIXEL.value.set(2 / wide, 2 / tall);
}

/** Edges from one geometry, drawn two pixels wide: a browser draws lines of one pixel only, too thin to be seen. */
export function wideLines(position, index) {
  const made = new InstancedBufferGeometry();
  made.setAttribute("position", position);
  made.setAttribute("nudge", new InstancedBufferAttribute(new Float32Array(NUDGES), 2));
  made.setIndex(index);
  made.instanceCount = NUDGES.length / 2;
  return made;
}

/** Paint for the faces of one part; edges drawn on them stay in front. */
export function facePaint() {
  return paint(FACE_VERTEX, FACE_FRAGMENT, { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
}

/** Paint for the edges of one part. */
export function edgePaint() {
  const material = paint(EDGE_VERTEX, EDGE_FRAGMENT, {});
  material.uniforms.pixel = PIXEL;
  return material;
}

function paint(vertexShader, fragmentShader, more) {
  const uniforms = { colour: { value: new Vector3() }, rim: { value: new Vector3() }, opacity: { value: 1 } };
  return new ShaderMaterial({ uniforms, vertexShader, fragmentShader, ...more });
}

/** Give a paint its colour, three shares of 1, and let what lies behind show through where `opacity` is below 1. */
export function mix(material, rgb, opacity) {
  material.uniforms.colour.value.set(...rgb);
  material.uniforms.opacity.value = opacity;
  material.transparent = opacity < 1;
  material.depthWrite = opacity === 1;
}

/** Where a paint is laid on: "marks" its place, "beside" such places or "over" them only, or "all". */
export function lay(material, where) {
  material.stencilWrite = where !== "all";
  material.stencilRef = 1;
  material.stencilFunc = { marks: AlwaysStencilFunc, beside: NotEqualStencilFunc, over: EqualStencilFunc, all: AlwaysStencilFunc }[where];
  if (where === "marks") material.stencilZPass = ReplaceStencilOp;
}

/** Give faces the colour of their outline. */
export function outline(material, rgb) {
  material.uniforms.rim.value.set(...rgb);
}
