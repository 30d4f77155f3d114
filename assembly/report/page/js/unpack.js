// The numbers of the page: one block of bytes, deflated and written as base64, and views into it.

/** The bytes behind base64 text, inflated. */
export async function inflated(text) {
  const packed = Uint8Array.from(atob(text.trim()), (sign) => sign.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Response(stream).arrayBuffer();
}

const KINDS = { f32: Float32Array, u16: Uint16Array, u32: Uint32Array, u8: Uint8Array };

/** A view into `buffer` at a place that the page names: [kind, offset in bytes, length]. */
export function numbersAt(buffer, [kind, offset, length]) {
  return new KINDS[kind](buffer, offset, length);
}
