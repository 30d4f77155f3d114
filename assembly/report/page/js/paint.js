// How faces and edges are drawn: flat light that comes from the viewer's left shoulder, as cheap as can be.

import { ShaderMaterial, Vector3 } from "three";

const FACE_VERTEX = `
varying vec3 seen;
void main() {
  seen = mat3(modelViewMatrix) * position; // its slopes are wanted only: without the long way to the viewer they are sharp
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;
const FACE_FRAGMENT = `
uniform vec3 colour;
uniform float opacity;
varying vec3 seen;
void main() {
  vec3 normal = normalize(cross(dFdx(seen), dFdy(seen)));
  float light = 0.58 + 0.46 * max(0.0, dot(normal, vec3(-0.36, 0.56, 0.745)));
  gl_FragColor = vec4(colour * light, opacity);
}`;
const EDGE_VERTEX = `void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }`;
const EDGE_FRAGMENT = `
uniform vec3 colour;
uniform float opacity;
void main() { gl_FragColor = vec4(colour, opacity); }`;

/** Paint for the faces of one part; edges drawn on them stay in front. */
export function facePaint() {
  return paint(FACE_VERTEX, FACE_FRAGMENT, { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
}

/** Paint for the edges of one part. */
export function edgePaint() {
  return paint(EDGE_VERTEX, EDGE_FRAGMENT, {});
}

function paint(vertexShader, fragmentShader, more) {
  const uniforms = { colour: { value: new Vector3() }, opacity: { value: 1 } };
  return new ShaderMaterial({ uniforms, vertexShader, fragmentShader, ...more });
}

/** Give a paint its colour, three shares of 1, and let what lies behind show through where `opacity` is below 1. */
export function mix(material, rgb, opacity) {
  material.uniforms.colour.value.set(...rgb);
  material.uniforms.opacity.value = opacity;
  material.transparent = opacity < 1;
  material.depthWrite = opacity === 1;
}
